"""Rows of parts: who may stand, what is told, and that nothing but published numbers enters."""

from dataclasses import replace

import pytest

from pooling.edition.parts import ALL_SITES, lot_rows, low_rows, part_rows, saying_rows
from pooling.errors import InvalidInput
from pooling.parts import References, fingerstick_range
from tests.pooling.conftest import Estimate, make_context, make_fit, make_part, make_parts

CONTEXT = make_context()


def rows(table="phases", name="phase"):
    return part_rows(getattr(make_parts(), table), name, CONTEXT)


def test_places_of_under_thirty_people_have_no_row():
    assert {row["site"] for row in rows()} == {None, "upper_arm.back", "thigh.front"}
    assert {row["site"] for row in low_rows(make_parts(), CONTEXT)} == {None, "upper_arm.back", "thigh.front"}


def test_all_sites_together_come_first_and_tell_differences_and_shares():
    first = rows()[0]
    assert (first["label"], first["mard_pct"], first["site"]) == (ALL_SITES, None, None)
    assert first["against_all_points"].lower < first["against_all_points"].value
    assert first["share_pct"].value > 0
    assert [row["phase"] for row in rows() if row["site"] == "upper_arm.back"] == [
        "day1",
        "days2_7",
        "day8_on",
        "all_days_alike",
    ]


def test_limits_are_rounded_outward():
    row = next(row for row in rows() if row["site"] == "thigh.front" and row["phase"] == "day1")
    assert float(row["against_all_points"].lower) <= 1.4 - 0.83
    assert float(row["against_all_points"].upper) >= 1.4 + 0.91


def test_a_difference_that_could_be_anything_is_left_out():
    wide = make_part("thigh.front", "day1", n_people=60)
    wide = replace(wide, against_all_points=Estimate(1.0, -6.0, 7.5))
    assert part_rows([wide], "phase", CONTEXT) == []


def test_what_choosing_does_is_told_of_thirty_people_and_more_where_it_could_not_be_anything():
    parts = make_parts()
    found = lot_rows(parts.lots, CONTEXT)
    assert [row["site"] for row in found] == [None, "thigh.front", "upper_arm.back"]
    assert float(found[0]["lot_less_chosen_points"].lower) <= -0.28
    assert float(found[0]["lot_less_chosen_points"].upper) >= 1.53
    wide = replace(parts.lots[1], lot_less_chosen_points=Estimate(1.0, -6.0, 7.5))
    assert lot_rows([wide], CONTEXT) == []


def test_other_sites_have_no_row_of_their_own():
    assert part_rows([make_part("other", "day1", n_people=60)], "phase", CONTEXT) == []


def test_a_place_twice_is_refused():
    with pytest.raises(InvalidInput):
        part_rows([make_part("thigh.front", "day1"), make_part("thigh.front", "day1")], "phase", CONTEXT)


def test_shares_of_few_are_bounds_and_wide_ones_are_not_told():
    parts = make_parts()
    low = parts.lows[1]
    few = replace(low, missed_pct=Estimate(1.1, 0.2, 3.0), false_pct=Estimate(40.0, 5.0, 80.0))
    (row,) = low_rows(replace(parts, lows=(few,)), CONTEXT)
    assert row["lows_missed_pct"].bound == "at_most"
    assert row["false_lows_pct"] is None
    nothing = replace(few, missed_pct=None)
    assert low_rows(replace(parts, lows=(nothing,)), CONTEXT) == []


class TestWhenTheSensorSays:
    def made(self, fit=None):
        return saying_rows((fit or make_fit()).sites, rows("ranges", "range"), CONTEXT)

    def test_each_site_of_thirty_people_tells_all_values(self):
        assert {row["site"] for row in self.made()} == {"upper_arm.back", "abdomen.front", "thigh.front"}
        assert [said.sensor_mg_dl for said in self.made()[0]["says"]] == [60, 70, 80, 100, 150, 200, 250]

    def test_ranges_follow_from_printed_numbers_alone(self):
        """Any two fits that are printed alike tell the same."""
        fit = make_fit()
        moved = replace(fit, sites=tuple(replace(site, location=site.location + 1e-5) for site in fit.sites))
        assert self.made(moved) == self.made()

    def test_a_range_is_that_of_the_rounded_numbers_rounded_outward(self):
        said = next(row for row in self.made() if row["site"] == "upper_arm.back")["says"][1].fingerstick_mg_dl
        site = next(site for site in make_fit().sites if site.place == "upper_arm.back")
        lower, upper = fingerstick_range(
            70,
            location=site.location,
            reading_sd_log=site.reading_sd_log,
            references=References.of_shares(31.4, 31.4),
        )
        assert float(said.lower) == pytest.approx(lower, abs=1.5)
        assert float(said.upper) == pytest.approx(upper, abs=1.5)

    def test_without_the_shares_of_fingersticks_nothing_is_told(self):
        some = [row for row in rows("ranges", "range") if row["range"] != "reference_low"]
        assert saying_rows(make_fit().sites, some, CONTEXT) == []
