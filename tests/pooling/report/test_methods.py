import numpy as np
import pytest

from pooling.comparison import bland_altman, deming, passing_bablok


def _life(n_pairs, seed=7):
    rng = np.random.default_rng(seed)
    reference = np.round(rng.uniform(60, 280, n_pairs), 0)
    return reference, np.round(reference * rng.lognormal(0, 0.1, n_pairs), 0)


def test_limits_take_the_pairs_of_a_day_as_repeated(wear_of):
    reference, sensor = _life(60)
    found = wear_of(reference, sensor, every_min=300).report()["limits"]
    day = np.arange(60) * 300 // 1440
    expected = bland_altman(sensor, reference, day)
    assert (found["n_pairs"], found["n_days"]) == (60, 13)
    assert found["mg_dl"]["upper"] == pytest.approx(expected.upper, abs=0.05)
    assert found["mg_dl"]["upper_ci"] == pytest.approx(expected.upper_ci, abs=0.05)
    of_logs = bland_altman(np.log(sensor), np.log(reference), day)
    assert found["pct"]["lower"] == pytest.approx(100 * np.expm1(of_logs.lower), abs=0.05)


def test_one_pair_a_day_is_not_repeated(wear_of):
    reference, sensor = _life(20)
    found = wear_of(reference[:13], sensor[:13], every_min=1440).report()["limits"]
    assert found is None
    found = wear_of(reference, sensor, every_min=1000).report()["limits"]
    assert found["n_days"] == 14


def test_percent_limits_hold_what_they_should(wear_of):
    # Log differences of sd 0.1: limits exp(±0.196), so −17.8 % and +21.7 %.
    rng = np.random.default_rng(1)
    reference = rng.uniform(60, 280, 1900)
    sensor = reference * rng.lognormal(0, 0.1, 1900)
    pct = wear_of(reference.round(2), sensor.round(2), every_min=10).report()["limits"]["pct"]
    assert (pct["lower"], pct["upper"]) == pytest.approx((-17.8, 21.7), abs=0.9)


@pytest.mark.parametrize(("n_pairs", "every_min"), [(19, 1000), (60, 100)])
def test_no_limits_from_too_few_pairs_or_days(wear_of, n_pairs, every_min):
    report = wear_of(*_life(n_pairs), every_min=every_min).report()
    assert (report["limits"] is None) == (n_pairs < 20 or n_pairs * every_min < 4 * 1440 + 1)


def test_lines_from_forty_pairs_on(wear_of):
    reference, sensor = _life(40)
    assert wear_of(reference[1:], sensor[1:]).report()["lines"] is None
    found = wear_of(reference, sensor).report()["lines"]
    assert found["n_pairs"] == 40
    assert found["deming"]["slope"] == pytest.approx(deming(reference, sensor).slope, abs=5e-4)
    expected = passing_bablok(reference, sensor)
    assert found["passing_bablok"]["slope_ci"] == pytest.approx(expected.slope_ci, abs=5e-4)
    assert found["passing_bablok"]["intercept_mg_dl"] == pytest.approx(expected.intercept, abs=0.05)


def test_a_line_that_the_pairs_do_not_give_is_none(wear_of):
    lines = wear_of([100.0] * 40, _life(40)[1]).report()["lines"]
    assert (lines["deming"], lines["passing_bablok"]) == (None, None)
