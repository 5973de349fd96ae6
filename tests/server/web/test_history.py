"""What changed between two documents."""

import copy

import pytest

from pooling.edition import assemble
from server.web import history
from tests.pooling.conftest import make_context, make_fit, make_outcomes


@pytest.fixture
def document():
    return assemble(make_fit(), make_context(), make_outcomes())


def changed(document, place, **figure):
    other = copy.deepcopy(document)
    row = next(row for row in other["tables"]["sites"] if row["site"] == place)
    row["mard_pct"] |= figure
    return other


def test_nothing_changed(document):
    assert history.changes(document, document) == history.Changes((), (), len(document["tables"]["sites"]))


def test_a_figure_that_moved_within_and_beyond_its_interval(document):
    (within,) = history.changes(document, changed(document, "chest", value=12)).sites
    assert (within.label, within.before, within.now) == ("chest", "12.5 (10.5 to 15)", "12 (10.5 to 15)")
    assert within.says == "within what the earlier interval allowed"
    (beyond,) = history.changes(document, changed(document, "chest", value=16)).sites
    assert beyond.says == "outside the earlier interval"


def test_sites_that_came_and_went(document):
    fewer = copy.deepcopy(document)
    fewer["tables"]["sites"] = fewer["tables"]["sites"][:-1]
    (came,) = history.changes(fewer, document).sites
    (went,) = history.changes(document, fewer).sites
    assert (came.before, came.says) == ("", "new")
    assert (went.now, went.says) == ("", "no longer shown")


def test_rules_that_changed_are_named(document):
    newer = copy.deepcopy(document)
    newer["rules"]["protocol_version"] += 1
    assert history.changes(document, newer).rules == ("The group's rules about what counts have changed.",)
