import numpy as np
import pytest

from pooling.simulate.trace import FINGERSTICK_LOG_SD, LAG_MIN, METER_SD, _smooth, draw_exports


def test_the_same_state_gives_the_same_exports():
    one, other = (draw_exports(np.random.default_rng(8)) for _ in range(2))
    np.testing.assert_array_equal(one.sensor.mg_dl, other.sensor.mg_dl)
    np.testing.assert_array_equal(one.meter.time, other.meter.time)


@pytest.mark.parametrize(("spacing_min", "n_readings"), [(1, 14_400), (5, 2_880), (15, 960)])
def test_a_trace_has_its_spacing_and_lies_within_the_wear(spacing_min, n_readings):
    exports = draw_exports(np.random.default_rng(1), spacing_min=spacing_min)
    assert exports.sensor.n_readings == n_readings
    assert exports.inserted <= exports.sensor.time[0] < exports.sensor.time[-1] <= exports.ended
    assert set(np.diff(exports.sensor.time).astype(int).tolist()) == {60 * spacing_min}


def test_glucose_is_smooth_with_the_stated_spread():
    path = _smooth(np.random.default_rng(2), 400_000)
    assert np.std(path) == pytest.approx(1, abs=0.05)
    assert FINGERSTICK_LOG_SD * np.std(np.diff(path)) < 0.02


def test_the_sensor_trails_the_meter_by_the_stated_lag():
    exports = draw_exports(np.random.default_rng(3), spacing_min=1, n_fingersticks=4000)
    minute = (exports.meter.time - exports.sensor.time[0]).astype(int) / 60
    log_sensor, log_meter = np.log(exports.sensor.mg_dl), np.log(exports.meter.mg_dl)
    at = np.arange(log_sensor.size)
    spread = [np.nanstd(log_meter - np.interp(minute + lag, at, log_sensor)) for lag in range(20)]
    assert abs(int(np.argmin(spread)) - LAG_MIN) <= 1


def test_second_strips_scatter_by_the_meters_own_noise():
    exports = draw_exports(np.random.default_rng(4), n_fingersticks=4000)
    close = np.diff(exports.meter.time).astype(int) < 60
    ratio = np.diff(np.log(exports.meter.mg_dl))[close]
    assert np.std(ratio) == pytest.approx(METER_SD * np.sqrt(2), rel=0.2)
