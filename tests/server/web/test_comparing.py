"""Sites side by side, and differences that look otherwise from within people than from without."""

import copy

import pytest

from pooling.edition import assemble
from server.web import comparing
from tests.pooling.conftest import make_context, make_fit, make_outcomes, make_parts


@pytest.fixture(scope="module")
def document():
    return assemble(make_fit(), make_context(), make_outcomes(), make_parts())


def test_sites_without_a_row_or_named_twice_are_left_out_and_four_are_the_most(document):
    asked = ["calf", "forearm", "calf", "nonsense", "chest", "thigh.front", "thigh.outer", "upper_arm.back"]
    assert comparing.sites_asked(asked, document) == ["calf", "chest", "thigh.front", "thigh.outer"]


def test_life_units_come_first_and_what_no_site_tells_has_no_line(document):
    found = comparing.measures(document, ["upper_arm.back", "chest"], "mmol/L")
    names = [measure.name for measure in found]
    assert names[0] == "At a fingerstick of 3.9 mmol/L, mostly showed"
    assert names[3] == "When the sensor says 3.9 mmol/L, the fingerstick mostly is"
    assert names.index("Expected difference (MARD, %)") == 8
    assert dict(found[-2].cells) == {"back of the upper arm": "at least 100 people", "chest": "at least 10 people"}
    alone = {measure.name for measure in found if not measure.compares}
    assert "MARD of four people in five, each for themselves (%)" in alone
    assert "Expected difference (MARD, %)" not in alone
    few = comparing.measures(document, ["chest", "calf"], "mg/dL")
    assert not any("four people" in measure.name for measure in few)


def test_each_pair_that_is_told_is_told_once(document):
    pairs = comparing.pairs(document, ["thigh.front", "upper_arm.back", "abdomen.front"])
    assert len(pairs) == 2
    assert comparing.pairs(document, ["calf", "chest"]) == ()


def test_two_ways_that_part_are_said_to(document):
    changed = copy.deepcopy(document)
    row = next(row for row in changed["tables"]["contrasts"] if row["site_a"] == "thigh.front" and row["primary"])
    assert row["basis"] == "from people who wore both"
    sites = [row["site_a"], row["site_b"]]
    (together,) = comparing.pairs(changed, sites)
    assert together.parted == ""
    assert together.overall
    row |= {"overall_points": {"value": -3.5, "lower": -5, "upper": -2}, "fits_part": True}
    (apart,) = comparing.pairs(changed, sites)
    assert "The two ways part" in apart.parted
    assert apart.overall == "\N{MINUS SIGN}3.5"  # the other way round than the site that is named first
    row |= {"overall_points": None, "fits_part": None}
    assert (comparing.pairs(changed, sites)[0].parted, comparing.pairs(changed, sites)[0].overall) == ("", "")
