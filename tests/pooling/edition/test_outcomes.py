"""Rows beside accuracy: what is told of whom, one number everywhere, and what looks alike."""

import csv
import io
from dataclasses import replace

import pytest

from pooling.edition import EmptyFit, assemble, canonical_bytes, table_csv
from pooling.edition.assembly import NOTE_BOUNDS, NOTE_ON_SKIN
from pooling.edition.outcomes import far_by_cell, on_rated_by_cell, rating_rows, skin_rows, survival_rows
from pooling.errors import InvalidInput
from pooling.outcomes import Outcomes
from pooling.protection import Published

OUTCOME_TABLES = ("survival", "skin", "ratings")
DAYS = tuple(f"on_day_{day}_pct" for day in (3, 7, 10, 14))
ENDS = ("off_adhesive_pct", "off_device_pct", "off_body_pct", "off_other_pct")


def only(survival):
    return Outcomes(survival=(survival,))


class TestSurvival:
    def test_a_full_row_tells_days_the_rated_life_and_how_the_others_ended(self, make_survival, make_context):
        (row,) = survival_rows(only(make_survival("chest", n_people=240)), make_context())
        assert [float(row[day].value) for day in DAYS] == [96.6, 91.4, 87.5, 77.6]
        assert row["on_rated_pct"].value is not None
        assert row["on_rated_pct"].lower < row["on_rated_pct"].value < row["on_rated_pct"].upper
        assert row["off_adhesive_pct"].bound is None
        assert {row[end].bound for end in ("off_device_pct", "off_other_pct")} == {"at_most"}

    def test_a_few_people_have_only_the_share_at_the_rated_life_without_an_interval(self, make_survival, make_context):
        (row,) = survival_rows(only(make_survival("chest", n_people=22, rated=61.0)), make_context())
        assert [row[name] for name in (*DAYS, *ENDS)] == [None] * 8
        assert (float(row["on_rated_pct"].value), row["on_rated_pct"].lower) == (61, None)

    @pytest.mark.parametrize("n_people", [4, 9])
    def test_too_few_people_have_no_row(self, make_survival, make_context, n_people):
        assert survival_rows(only(make_survival("chest", n_people=n_people)), make_context()) == []

    def test_a_day_that_is_the_rated_life_has_its_figure(self, make_survival, make_context):
        own = make_survival("chest", "demo-a14", n_people=240)
        ended = replace(own, on_pct={**own.on_pct, 14: own.rated_pct}, later_pct={})
        (row,) = survival_rows(only(ended), make_context())
        assert row["on_day_14_pct"] is row["on_rated_pct"]

    def test_a_day_that_few_sensors_reach_is_not_told(self, make_survival, make_context):
        own = make_survival("chest", n_people=64)
        share, _ = own.later_pct[14]
        (row,) = survival_rows(only(replace(own, later_pct={14: (share, 29)})), make_context())
        assert row["on_day_14_pct"] is None

    def test_a_cell_given_twice_is_refused(self, make_survival, make_context):
        twice = Outcomes(survival=(make_survival("chest"), make_survival("chest")))
        with pytest.raises(InvalidInput, match="twice"):
            survival_rows(twice, make_context())


class TestSkinAndRatings:
    def test_they_need_thirty_people(self, make_level, make_context):
        for n_people, expected in ((29, 0), (30, 1)):
            level = make_level("chest", n_people=n_people)
            assert len(skin_rows(Outcomes(reaction_pct=(level,)), make_context())) == expected
            assert len(rating_rows(Outcomes(ratings={"ease": (level,)}), make_context())) == expected

    def test_reactions_need_ten_people_on_either_side(self, make_level, make_context):
        (row,) = skin_rows(Outcomes(reaction_pct=(make_level("chest", n_people=60, median=14.0),)), make_context())
        assert (row["reaction_pct"].bound, float(row["reaction_pct"].value)) == ("at_most", 20)
        (row,) = skin_rows(Outcomes(reaction_pct=(make_level("chest", n_people=240, median=14.0),)), make_context())
        assert (row["reaction_pct"].bound, float(row["reaction_pct"].value)) == (None, 14)

    def test_a_rating_has_its_mean_and_interval_on_a_grid_within_its_scale(self, make_level, make_context):
        level = make_level("chest", n_people=60, median=9.53)
        (row,) = rating_rows(Outcomes(ratings={"ease": (level,)}), make_context())
        assert (float(row["mean_points"].value), float(row["mean_points"].upper)) == (9.55, 10)
        assert row["rating"] == "ease"


def test_readings_far_off_have_only_an_upper_limit_rounded_outward(make_level, make_context):
    levels = (make_level("chest", n_people=64, median=4.1), make_level("calf", n_people=29))
    found = far_by_cell(Outcomes(far_per_1000=levels), make_context())
    figure = found["chest", None]
    assert (figure.bound, float(figure.value), figure.lower, figure.upper) == ("at_most", 4.6, None, None)
    assert float(figure.value) >= 4.1 * 1.1
    assert set(found) == {("chest", None)}


class TestDocument:
    def test_the_share_at_the_rated_life_is_one_figure_in_both_tables(self, document):
        for table, places in (("sites", None), ("sites_by_model", "demo-a14")):
            told = {
                (row["site"], row["region"], row["sensor_model"]): row["on_rated_pct"]
                for row in document["tables"]["survival"]
            }
            rows = [row for row in document["tables"][table] if row["sensor_model"] == places]
            compared = [
                (row["on_rated_pct"], told.get((row["site"], row["region"], row["sensor_model"]))) for row in rows
            ]
            assert all(here == there for here, there in compared)
            assert any(here for here, _ in compared)

    def test_lookup_by_cell(self, make_outcomes, make_context):
        rows = survival_rows(make_outcomes(), make_context())
        found = on_rated_by_cell(rows)
        assert ("abdomen", None) in found
        assert all(isinstance(figure, Published) for figure in found.values())

    def test_withheld_empty_and_foreign_look_alike(self, make_fit, make_context, make_outcomes):
        """Four people at the forearm, nobody there, or a cell that is no place of this group: not a byte differs."""
        full = make_outcomes()

        def without(levels):
            return tuple(level for level in levels if level.n_people >= 5)

        gone = Outcomes(
            without(full.survival),
            without(full.reaction_pct),
            {name: without(levels) for name, levels in full.ratings.items()},
            without(full.far_per_1000),
        )
        absurd = replace(
            full,
            survival=tuple(
                replace(own, rated_pct=replace(own.rated_pct, median=0.0, lower=0.0)) if own.n_people < 5 else own
                for own in full.survival
            ),
        )
        documents = [assemble(make_fit(), make_context(), outcomes) for outcomes in (full, gone, absurd)]
        assert len({canonical_bytes(one) for one in documents}) == 1
        assert len({table_csv(one, table) for one in documents for table in ("survival",)}) == 1
        assert "forearm" not in canonical_bytes(documents[0]).decode()

    def test_a_row_of_accuracy_whose_days_are_withheld_is_as_where_there_are_none(
        self, make_fit, make_context, make_survival
    ):
        few = Outcomes(survival=(make_survival("upper_arm.back", n_people=4),))
        assert canonical_bytes(assemble(make_fit(), make_context(), few)) == canonical_bytes(
            assemble(make_fit(), make_context())
        )

    def test_rows_may_stand_where_accuracy_has_none(self, make_context, make_survival):
        document = assemble(EmptyFit(), make_context(), only(make_survival("chest", n_people=64)))
        assert document["about"]["people"] == {"at_least": 50, "below": None}
        assert NOTE_ON_SKIN in document["notes"]
        assert NOTE_BOUNDS in document["notes"]
        assert document["tables"]["sites"] == []

    @pytest.mark.parametrize("table", OUTCOME_TABLES)
    def test_no_exact_number_stands_in_the_document(self, document, table):
        text = str(document["tables"][table])
        assert document["tables"][table]
        assert "82.3" not in text
        assert "7.12" not in text


def test_a_sheet_says_what_is_an_estimate_and_what_a_bound(document):
    cells = list(csv.DictReader(io.StringIO(table_csv(document, "survival"), newline="")))
    kinds = {cell["on_rated_is"] for cell in cells}
    assert kinds <= {"estimate", "at_least"}
    assert all(cell["on_rated_lower_95_pct"] == "" for cell in cells if cell["on_rated_is"] == "at_least")
    small = next(cell for cell in cells if cell["site"] == "chest")
    assert (small["on_day_3_pct"], small["on_day_3_is"], small["off_device_is"]) == ("", "", "")
