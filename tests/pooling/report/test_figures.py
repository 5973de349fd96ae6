import numpy as np
import pytest

from pooling.report import figures


def test_groups_are_of_the_pairs_they_name(wear_of):
    # Eight falling pairs 10 % low, eight rising 20 % high, three steady (both ends are), one unknown.
    reference = [100.0] * 20
    sensor = [90.0] * 8 + [120.0] * 8 + [100.0] * 4
    rates = [-1.5] * 8 + [2.0] * 8 + [1.0, -1.0, -0.5, None]
    prompts = ["doubt"] * 10 + ["scheduled"] * 8 + ["other", "scheduled"]
    report = wear_of(reference, sensor, every_min=100, rate_mg_dl_min=rates, prompt=prompts).report()
    by_rate = {group["name"]: group for group in report["groups"]["rate"]}
    assert [by_rate[name]["n_pairs"] for name in ("falling", "steady", "rising")] == [8, 3, 8]
    assert (by_rate["falling"]["mard_pct"], by_rate["falling"]["relative_bias_pct"]) == (10, -10)
    assert (by_rate["rising"]["mard_pct"], by_rate["rising"]["relative_bias_pct"]) == (20, 20)
    assert by_rate["steady"]["mard_pct"] is None
    by_prompt = {group["name"]: group["n_pairs"] for group in report["groups"]["prompt"]}
    assert by_prompt == {"scheduled": 9, "doubt": 10}
    # 100 minutes apart: fifteen of twenty pairs lie in the first 1440 minutes.
    assert [group["n_pairs"] for group in report["groups"]["phase"]] == [15, 5, 0]
    assert [group["n_pairs"] for group in report["groups"]["level"]] == [0, 20, 0]


def test_equal_differences_have_no_margin_and_unequal_ones_do(wear_of):
    reference = np.linspace(80, 240, 24)
    equal = wear_of(reference, np.round(1.1 * reference, 2), every_min=600).report()
    assert equal["intervals"]["mard_pct"] == pytest.approx([10, 10], abs=0.02)
    spread = wear_of(reference, reference * np.where(np.arange(24) % 3, 1.1, 0.8), every_min=600).report()
    low, high = spread["intervals"]["mard_pct"]
    assert low < spread["mard_pct"] < high
    assert high - low > 1


def test_each_interval_holds_its_figure(wear_of):
    rng = np.random.default_rng(6)
    reference = rng.uniform(60, 300, 80)
    report = wear_of(reference, np.round(reference * rng.lognormal(0.02, 0.12, 80), 1), every_min=240).report()
    assert (report["draws"]["n_draws"], report["draws"]["n_stretches"]) == (2000, 14)
    for name, (low, high) in report["intervals"].items():
        assert low <= report[name] <= high, name
        assert low < high, name


def test_lows_by_the_fingerstick_and_by_the_sensor(wear_of):
    # Low by fingerstick: 60 seen, 65 missed, 62 seen as a mark. Low by the sensor alone: 69 beside 90.
    lows = wear_of([60, 65, 62, 90, 150], [64, 80, None, 69, 140]).report()["lows"]
    assert (lows["n_low_by_reference"], lows["n_of_them_shown_low"]) == (3, 2)
    assert (lows["n_low_by_sensor"], lows["n_shown_low_only"]) == (3, 1)
    # Wilson 95 % of 1 in 3: centre (1 + 1.92) / (3 + 3.84), half width by the same formula (Wilson 1927).
    assert lows["missed_interval_pct"] == lows["false_interval_pct"] == pytest.approx([6.1, 79.2], abs=0.05)


def test_without_lows_there_is_no_share_of_lows(wear_of):
    lows = wear_of([150, 160], [150, 160]).report()["lows"]
    assert (lows["missed_interval_pct"], lows["false_interval_pct"]) == (None, None)


def test_the_headline_is_that_of_the_report(wear_of):
    wear = wear_of([100, 120, 90], [110, 126, 88], prompt=["scheduled", "doubt", "calibration"])
    found = figures.headline(wear.columns)
    assert found["n_pairs"] == 2
    assert found == {name: wear.report()[name] for name in found}
    assert figures.headline(wear.columns.only(np.zeros(3, dtype=bool))) == {}
