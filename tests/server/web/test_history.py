"""What changed between two documents."""

import copy

import pytest

from pooling.edition import assemble
from server.web import history
from server.web.colouring import rows_of
from server.web.scale import SCALES
from tests.pooling.conftest import make_context, make_fit, make_outcomes


@pytest.fixture
def document():
    return assemble(make_fit(), make_context(), make_outcomes())


def changed(document, place, **figure):
    other = copy.deepcopy(document)
    row = next(row for row in other["tables"]["sites"] if row["site"] == place)
    row["mard_pct"] |= figure
    return other


def only(changes):
    (kind,) = changes.kinds
    return kind.sites


def test_nothing_changed(document):
    same = sum(len(rows_of(document, name)) for name in SCALES)
    assert same > len(document["tables"]["sites"])
    assert history.changes(document, document) == history.Changes((), (), same)


def test_a_figure_that_moved_within_and_beyond_its_interval(document):
    (within,) = only(history.changes(document, changed(document, "chest", value=12)))
    assert (within.label, within.before, within.now) == ("chest", "12.5 (10.5 to 15)", "12 (10.5 to 15)")
    assert within.says == "within what the earlier interval allowed"
    (beyond,) = only(history.changes(document, changed(document, "chest", value=16)))
    assert beyond.says == "outside the earlier interval"


def test_sites_that_came_and_went(document):
    fewer = copy.deepcopy(document)
    fewer["tables"]["sites"] = fewer["tables"]["sites"][:-1]
    (came,) = only(history.changes(fewer, document))
    (went,) = only(history.changes(document, fewer))
    assert (came.before, came.says) == ("", "new")
    assert (went.now, went.says) == ("", "no longer shown")


def test_rules_that_changed_are_named(document):
    newer = copy.deepcopy(document)
    newer["rules"]["protocol_version"] += 1
    assert history.changes(document, newer).rules == ("The group's rules about what counts have changed.",)


def test_all_kinds_of_figures_are_looked_at(document):
    newer = copy.deepcopy(document)
    row = next(row for row in newer["tables"]["ratings"] if row["rating"] == "comfort" and row["sensor_model"] is None)
    row["mean_points"]["value"] += 1
    (kind,) = history.changes(document, newer).kinds
    assert kind.title == "Comfort (0 to 10)"
    assert kind.sites[0].says == "outside the earlier interval"
    row["mean_points"] = {"value": 5, "bound": "at_least"}
    assert history.changes(document, newer).kinds[0].sites[0].says == "told otherwise than before"
