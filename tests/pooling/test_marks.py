"""What a chart takes from a table, and how it says what it found."""

import pytest

from pooling import marks
from pooling.errors import InvalidInput


def test_shares_over_all_models_with_an_interval_are_drawn_and_no_others(document):
    rows = document["tables"]["survival"]
    wanted = {r["label"] for r in rows if r["sensor_model"] is None and "lower" in r["on_rated_pct"]}
    drawn = [mark.name for mark in marks.marks_of(document, "survival")]
    assert set(drawn) == wanted
    assert len(drawn) < len({r["label"] for r in rows if r["sensor_model"] is None})  # one is told as a bound alone
    assert {mark.sensor_model for mark in marks.marks_of(document, "skin")} == {None}


def test_how_people_differ_is_shown_where_the_document_tells_it(document):
    told = {row["label"]: row.get("people_range_pct") for row in document["tables"]["sites"]}
    for mark in marks.marks_of(document, "sites"):
        spread = told[mark.name]
        assert mark.people_range == ((spread["lower"], spread["upper"]) if spread else None)
    assert "four people in five" in " ".join(marks.more_to_know(document, "sites"))
    assert "four people in five" not in " ".join(marks.more_to_know(document, "skin"))


@pytest.mark.parametrize("chart", marks.SHOWN)
def test_the_finding_names_what_is_shown(document, chart):
    said = marks.finding(document, chart)
    assert marks.SHOWN[chart].called.strip(",") in said or chart == "contrasts"
    assert "at least" in said


def test_one_row_is_told_as_the_only_one(document):
    rows = document["tables"]["skin"]
    document["tables"]["skin"] = [next(row for row in rows if "lower" in row["reaction_pct"])]
    assert marks.finding(document, "skin").endswith("the only row.")
    assert marks.finding(document, "skin").startswith("The share of people")


def test_numbers_have_a_true_minus_sign():
    assert marks.number(-1.5) == "\N{MINUS SIGN}1.5"


def test_an_unknown_chart_is_refused(document):
    with pytest.raises(InvalidInput):
        marks.marks_of(document, "ratings")
