"""What two files and their pairing say before there is a record; every fault is planted in invented exports."""

import numpy as np
import pytest

from pooling.checks.exports import find_in_exports
from pooling.importing.types import Series
from pooling.pairing import pair
from pooling.simulate.trace import draw_exports

EXPORTS = draw_exports(np.random.default_rng(21))
DAY = np.timedelta64(1, "D")


def _found(sensor=EXPORTS.sensor, meter=EXPORTS.meter, **options):
    pairing = pair(sensor, meter, **({"inserted": EXPORTS.inserted, "ended": EXPORTS.ended} | options))
    return find_in_exports(sensor, meter, pairing)


def _codes(*args, **options):
    return [finding.code for finding in _found(*args, **options)]


def _with(series, **columns):
    return Series(**({name: getattr(series, name) for name in ("time", "mg_dl", "mark", "line")} | columns))


def _placed(series, value, *places):
    mg_dl = series.mg_dl.copy()
    mg_dl[list(places)] = value
    return _with(series, mg_dl=mg_dl)


def test_good_exports_stay_without_a_remark():
    drawn = [draw_exports(np.random.default_rng(seed), spacing_min=(1, 5, 15)[seed % 3]) for seed in range(30)]
    remarks = [code for one in drawn for code in _codes(one.sensor, one.meter, inserted=one.inserted, ended=one.ended)]
    assert remarks == []


@pytest.mark.parametrize("factor", [18.0156, 1 / 18.0156])
@pytest.mark.parametrize("which", ["sensor", "meter", "both"])
def test_a_file_read_in_the_other_unit_is_one_remark(factor, which):
    def changed(name):
        series = getattr(EXPORTS, name)
        return _with(series, mg_dl=series.mg_dl * factor) if which in (name, "both") else series

    (finding,) = _found(changed("sensor"), changed("meter"))
    assert (finding.code, finding.severity) == ("wrong_unit", "stop")


def test_instruments_in_two_units_are_found_where_both_are_possible():
    high = _with(EXPORTS.meter, mg_dl=np.linspace(380, 590, EXPORTS.meter.n_readings))
    low = _with(EXPORTS.sensor, mg_dl=np.linspace(21, 33, EXPORTS.sensor.n_readings))
    assert "wrong_unit" in _codes(low, high)


def test_numbers_that_no_display_shows_are_counted_by_instrument():
    (finding,) = _found(_placed(EXPORTS.sensor, 0, 5, 50, 500), _placed(EXPORTS.meter, 999, 7))
    assert finding.code == "impossible_values"
    assert finding.seen.startswith("3 readings of the sensor and 1 reading of the meter lie outside 20 to 600")


def test_files_of_other_days_are_said_to_be_so():
    (finding,) = _found(meter=_with(EXPORTS.meter, time=EXPORTS.meter.time + 40 * DAY))
    assert (finding.code, finding.severity) == ("outside_wear", "stop")


def test_fingersticks_outside_the_wear_are_nothing_odd_where_others_have_pairs():
    assert _codes(inserted=EXPORTS.inserted + 2 * DAY) == []


def test_a_trace_with_large_gaps_is_said_to_have_them():
    kept = np.arange(EXPORTS.sensor.n_readings) < 500
    gappy = Series(*(getattr(EXPORTS.sensor, name)[kept] for name in ("time", "mg_dl", "mark", "line")))
    assert "no_reading_near" in _codes(gappy)


def test_clocks_that_differ_are_said_until_the_offset_is_applied():
    moved = draw_exports(np.random.default_rng(21), offset_min=60.0)
    (finding,) = _found(moved.sensor, moved.meter)
    assert finding.code == "clocks_differ"
    assert "ahead of" in finding.seen
    assert _codes(moved.sensor, moved.meter, offset_min=60) == []


def test_a_jump_of_the_trace_is_found_once_for_each_place():
    (finding,) = _found(_placed(EXPORTS.sensor, 480, 1000))
    assert finding.code == "impossible_rates"


def test_nothing_found_holds_a_reading_or_a_time():
    every = (*_found(_placed(EXPORTS.sensor, 0, 5)), *_found(meter=_placed(EXPORTS.meter, 999, 7)))
    shown = " ".join(f"{one.seen} {one.why} {one.do}" for one in every)
    assert "2031" not in shown
