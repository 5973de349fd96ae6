"""Tables of a document, known or not, in words."""

import pytest

from server.web import tables

BAND = {"at_least": 30, "below": 50}
STAGES = [
    {
        "site": site,
        "region": "thigh",
        "label": "front of the thigh",
        "sensor_model": None,
        "phase": phase,
        "people": BAND,
        "mard_pct": {"value": value, "lower": value - 1, "upper": value + 1},
        "shown_mg_dl": {"lower": 60, "upper": 84},
        "far_per_1000": {"value": 5, "bound": "at_most"},
        "settled": True,
        "withheld": False,
    }
    for site, phase, value in (
        ("thigh.front", "day 1", 12.5),
        ("thigh.front", "days 2 to 7", 9.5),
        ("calf", "day 1", 14),
    )
]


def document(**more):
    return {"tables": {"sites": [{"site": "calf"}], "stages": STAGES, "something_new": [], **more}}


def test_a_table_without_a_section_of_its_own_is_shown_with_its_title():
    (table,) = tables.other_tables(document(), "mg/dL", site="thigh.front")
    assert (table.name, table.title, len(table.lines)) == ("stages", "Stages", 2)
    assert table.headers == (
        "Days of wear",
        "Expected difference (MARD, %)",
        "Shown (mg/dL)",
        "Far (of 1,000)",
        "Settled",
        "People",
    )
    first = [cell.text for cell in table.lines[0].cells]
    assert first == ["day 1", "12.5 (11.5 to 13.5)", "60 to 84", "at most 5", "yes", "at least 30 people"]


def test_glucose_is_told_in_the_unit_that_the_reader_chose():
    (table,) = tables.other_tables(document(), "mmol/L")
    assert "Shown (mmol/L)" in table.headers
    assert "3.3 to 4.7" in [cell.text for cell in table.lines[0].cells]
    assert len(table.lines) == 3


def test_a_table_that_this_release_does_not_know_is_named_by_its_own_name():
    row = {"site": "calf", "region": "calf", "label": "calf", "people": BAND, "pinch_mm": 4, "note": None, "odd": None}
    known, new = tables.other_tables(document(pinched_skin=[row, row | {"odd": "wet"}]), "mg/dL", site="calf")
    assert known.name == "stages"
    assert (new.title, new.headers) == ("Pinched skin", ("Pinch mm", "Odd", "People"))
    assert [cell.text for cell in new.lines[0].cells] == ["4", "not told", "at least 30 people"]


@pytest.mark.parametrize(
    ("column", "words"),
    [("bias_pct", "Bias (%)"), ("worn_days", "Worn (days)"), ("low_mg_dl", "Low (mmol/L)"), ("pct", "Pct")],
)
def test_the_end_of_a_name_tells_the_unit(column, words):
    assert tables.header(column, "mmol/L") == words


def test_what_a_column_means_is_said_where_it_is_known():
    (table,) = tables.other_tables(document(), "mg/dL")
    meanings = dict(table.meanings)
    assert meanings["Expected difference (MARD, %)"].startswith("Expected difference from the fingerstick")
    assert "Settled" not in meanings


def test_a_table_is_called_by_its_title_or_by_its_own_name():
    assert tables.title_of("skin") == "How the skin takes it"
    assert tables.title_of("lots") == "Sites by lot against chosen sites"
    assert tables.title_of("prompts") == "Why the finger was pricked"
    assert tables.title_of("pinched_skin") == "Pinched skin"
