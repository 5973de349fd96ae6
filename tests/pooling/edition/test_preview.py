"""What a moderator sees before publishing, from documents alone."""

from copy import deepcopy

import pytest

from pooling.edition.preview import changes_since, withheld_in


@pytest.fixture
def previous(document):
    return deepcopy(document) | {"number": 6, "cut_off": "2026-06-01"}


def row_of(document, table, label):
    return next(row for row in document["tables"][table] if row["label"] == label)


def test_nothing_is_compared_before_the_second_edition(document):
    assert changes_since(None, document) is None


def test_the_same_figures_are_no_change(previous, document):
    found = changes_since(previous, document)
    assert found == {
        "since": {"number": 6, "cut_off": "2026-06-01"}, "came": [], "went": [], "people": [], "figures": []
    }  # fmt: skip


def test_a_figure_counts_as_changed_by_more_than_its_rounding_step(previous, document):
    # 120 people: the band 100 to 199, and 5 points over 100 people are a step of 0.05.
    arm = row_of(previous, "sites", "back of the upper arm")
    assert arm["people"] == {"at_least": 100, "below": 200}
    value = arm["mard_pct"]["value"]
    for moved, counts in ((0.05, False), (-0.05, False), (0.1, True)):
        arm["mard_pct"]["value"] = round(value + moved, 2)
        figures = changes_since(previous, document)["figures"]
        assert [change["figure"] for change in figures] == ["mard_pct"] * counts
    assert figures[0]["step"] == 0.05
    assert (figures[0]["was"]["value"], figures[0]["is"]["value"]) == (arm["mard_pct"]["value"], value)


def test_of_two_bands_the_coarser_step_decides(previous, document):
    arm = row_of(previous, "sites", "back of the upper arm")
    arm["people"] = {"at_least": 5, "below": 10}
    arm["mard_pct"]["value"] += 0.9
    found = changes_since(previous, document)
    assert [change["row"] for change in found["people"]] == ["back of the upper arm"]
    assert (found["people"][0]["was"]["at_least"], found["people"][0]["is"]["at_least"]) == (5, 100)
    assert "mard_pct" not in {change["figure"] for change in found["figures"]}


def test_rows_that_came_and_went_are_named_with_their_table(previous, document):
    previous["tables"]["sites"].remove(row_of(previous, "sites", "calf"))
    document["tables"]["skin"] = []
    found = changes_since(previous, document)
    assert found["came"] == [{"table": "sites", "row": "calf", "sensor_model": None}]
    assert {change["table"] for change in found["went"]} == {"skin"}
    assert len(found["went"]) == len(previous["tables"]["skin"]) > 0


def test_an_estimate_that_became_a_bound_is_a_change(previous, document):
    row = next(row for row in document["tables"]["skin"] if row["reaction_pct"] and "bound" not in row["reaction_pct"])
    row["reaction_pct"] = {"value": row["reaction_pct"]["value"], "bound": "at_most"}
    assert [change["figure"] for change in changes_since(previous, document)["figures"]] == ["reaction_pct"]


def test_what_is_withheld_is_told_in_general_terms_and_from_the_document_alone(document):
    found = withheld_in(document)
    assert "forearm" in found["sites_without_row"]  # four people wear it there
    assert "buttock" in found["sites_without_row"]  # nobody does
    assert "calf" not in found["sites_without_row"]
    assert {"calf", "chest"} <= set(found["rows_with_fewer_figures"])
    assert "back of the upper arm" not in found["rows_with_fewer_figures"]
    assert any("told to nobody" in sentence for sentence in found["says"])
