"""A meter that stays within 15 % (ISO 15197:2013) without bias has a coefficient of variation of 15 / 1.96 = 7.65 %."""

import numpy as np
import pytest

from tests.pooling.checks.wears import codes, each, found, wear

PLANTED = {
    "copied_readings": lambda content: each(content, sensor=lambda _, pair: pair["reference"]),
    "constant_offset": lambda content: each(content, sensor=lambda _, pair: pair["reference"] + 7),
    "stuck_sensor": lambda content: each(content, sensor=120),
}


@pytest.mark.parametrize("code", PLANTED)
def test_a_planted_fault_is_found(code):
    assert code not in codes(wear())
    assert code in codes(PLANTED[code](wear()))


def _lagging(lag_min):
    """A sensor that trails by so many minutes (leads, below zero), with differences of its own."""
    rng = np.random.default_rng(8)
    rates = [round(float(rate), 2) for rate in rng.normal(0, 1.5, 40)]
    off = rng.normal(0, 8, 40)
    return each(
        wear(5),
        rate_mg_dl_min=lambda number, _: rates[number],
        sensor=lambda number, pair: round(pair["reference"] - lag_min * rates[number] + off[number]),
    )


def test_a_sensor_that_leads_suggests_swapped_columns():
    assert "swapped_columns" in codes(_lagging(-6))
    assert "swapped_columns" not in codes(_lagging(6))
    assert "swapped_columns" not in codes(_lagging(0))
    assert "swapped_columns" not in codes(_lagging(-6) | {"calibrated": True})


def test_a_record_with_one_rate_throughout_says_nothing_about_order():
    assert "swapped_columns" not in codes(each(_lagging(-6), rate_mg_dl_min=0.0))


def test_a_pair_in_two_units_is_found_where_both_numbers_are_possible():
    content = wear()
    content["pairs"][7] |= {"reference": 414, "sensor": 23.0}
    (finding,) = found(content)
    assert (finding.code, finding.severity) == ("wrong_unit", "stop")
    assert finding.seen.startswith("In 1 pair ")


def _with_replicates(cv, n_twice, meter_class="within-15-pct"):
    rng = np.random.default_rng(11)
    content = each(wear(meter_class=meter_class), replicate=None)
    for pair in content["pairs"][:n_twice]:
        pair |= {"replicate": round(pair["reference"] * np.exp(np.sqrt(2) * cv * rng.standard_normal()))}
    return codes(content)


def test_second_strips_that_scatter_more_than_the_meter_may_are_found():
    assert "meter_noise" in _with_replicates(0.20, 20)
    assert "meter_noise" not in _with_replicates(0.06, 20)
    assert "meter_noise" not in _with_replicates(0.20, 3)


def test_a_meter_is_held_to_what_its_leaflet_states():
    assert "meter_noise" in _with_replicates(0.10, 30, "within-10-pct")
    assert "meter_noise" not in _with_replicates(0.10, 30, "within-20-pct")


def test_chance_alone_seldom_blames_a_meter_at_its_stated_limit():
    rng = np.random.default_rng(12)
    n_blamed = 0
    for _ in range(300):
        content = wear(n_pairs=12, meter_class="within-15-pct")
        for pair in content["pairs"]:
            pair |= {"replicate": round(pair["reference"] * np.exp(np.sqrt(2) * 0.0765 * rng.standard_normal()))}
        n_blamed += "meter_noise" in codes(content)
    assert n_blamed <= 9  # 1 % of 300, and three standard errors
