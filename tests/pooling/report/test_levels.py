import numpy as np
import pytest
import statsmodels.api as sm

from pooling.report.levels import levels, mostly


def test_it_is_the_prediction_interval_of_a_regression():
    # Against the prediction interval of a general statistics library, on logarithms.
    rng = np.random.default_rng(4)
    given = rng.lognormal(4.9, 0.35, 40)
    wanted = given**0.9 * 1.7 * rng.lognormal(0, 0.1, 40)
    fit = sm.OLS(np.log(wanted), sm.add_constant(np.log(given))).fit()
    for level in (70.0, 100.0, 180.0):
        outside = fit.get_prediction([[1.0, np.log(level)]]).conf_int(obs=True, alpha=0.2)[0]
        assert mostly(given, wanted, level) == pytest.approx(tuple(np.exp(outside)), rel=1e-9)


@pytest.mark.parametrize("name", ["shows", "means"])
def test_it_holds_four_in_five_further_readings(name):
    # Both ways round, in one life: fingersticks about 130, a sensor with 15 % error that reads 5 % low.
    rng = np.random.default_rng(21)
    n_inside, n_readings = 0, 0
    for _ in range(60):
        reference = rng.lognormal(np.log(130), 0.35, 2_030)
        sensor = reference * rng.lognormal(-0.05, 0.15, reference.size)
        found = levels(reference[:30], sensor[:30])[name]
        given, wanted = (reference, sensor) if name == "shows" else (sensor, reference)
        level = next((one for one in found if one["unit"] == "mg/dL" and 100.0 in one.values()), None)
        if level is not None:
            near = np.abs(given[30:] - 100) < 3
            inside = (wanted[30:][near] >= level["from_mg_dl"]) & (wanted[30:][near] <= level["to_mg_dl"])
            n_inside, n_readings = n_inside + int(inside.sum()), n_readings + int(near.sum())
    assert n_readings > 3_000
    # A prediction interval covers 80 % over repetitions; sixty wears of thirty pairs leave about two points of chance.
    assert n_inside / n_readings == pytest.approx(0.8, abs=0.045)


def test_the_fingerstick_lies_nearer_to_its_usual_values_than_ratios_say():
    # Regression to the mean: at a sensor reading of 60 in a life about 130 the fingerstick is on average above 60.
    rng = np.random.default_rng(5)
    reference = rng.lognormal(np.log(130), 0.3, 400)
    sensor = reference * rng.lognormal(0, 0.2, 400)
    low, high = mostly(sensor, reference, 60.0)
    # Variance of logs 0.09 and 0.04: slope of the fingerstick on the sensor 0.09 / 0.13.
    assert np.sqrt(low * high) == pytest.approx(130 * np.exp(np.log(60 / 130) * 0.09 / 0.13), rel=0.05)


def test_levels_outside_the_pairs_are_left_out():
    reference = np.linspace(90, 170, 20)
    found = levels(reference, reference * 1.02)
    assert [level["reference_mg_dl"] for level in found["shows"]] == [100.0, 100.89]
    assert levels(reference[:7], reference[:7]) == {"shows": [], "means": []}
    assert levels(np.full(20, 100.0), reference)["shows"] == []


def test_a_level_in_a_gap_is_left_out():
    # Nothing near 100, so nothing is said of it, though readings lie on both sides.
    reference = np.repeat([60.0, 70.0, 200.0, 240.0], 5)
    sensor = reference * np.resize([0.95, 1.05, 1.0], 20)
    found = levels(reference, sensor)
    assert [level["reference_mg_dl"] for level in found["shows"] if level["unit"] == "mg/dL"] == [70.0, 180.0]
    two_near = np.r_[reference, 99.0, 101.0]
    assert mostly(two_near, two_near * 1.01, 100.0) is None
    assert mostly(np.r_[two_near, 105.0], np.r_[two_near, 105.0] * 1.01, 100.0) is not None
