"""Many wears of one account on their way in: judged one by one, asked about and written together."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from server.accounts.models import Holding
from server.accounts.selectors import wearer_of
from server.accounts.services import record_consent
from server.core.errors import Conflict, Invalid
from server.wears import intake
from server.wears.intake import accepting
from server.wears.models import Wear, WearPairs, WearSummary
from tests.server.records import raw

pytestmark = pytest.mark.django_db


def take_in(member, *records):
    """What was remarked of each, by code; None of those that were refused."""
    wearer = wearer_of(member.account, None)
    told = []
    with accepting(member.account) as intake:
        for record in records:
            try:
                told.append([finding.code for finding in intake.take(record, wearer=wearer).findings])
            except Invalid:
                told.append(None)
    return told


def n_rows():
    return {model.objects.count() for model in (Wear, WearPairs, WearSummary, Holding)}


def test_one_that_is_refused_leaves_the_others_as_they_are(contributor, catalogue):
    assert take_in(contributor, raw(), raw(seed=2, site="nose"), raw(seed=3)) == [[], None, []]
    assert n_rows() == {2}
    assert {wear.pairs.block is not None for wear in Wear.objects.all()} == {True}


def test_a_copy_is_told_whether_it_came_before_or_along_with_it(contributor, stranger, catalogue):
    copy = ["own_duplicate"]
    assert take_in(contributor, raw(), raw(), raw(seed=2)) == [[], copy, []]
    assert take_in(contributor, raw(seed=2), raw(seed=3)) == [copy, []]
    assert take_in(stranger, raw(), raw(seed=2)) == [[], []]


def test_of_wears_without_pairs_the_description_decides(contributor, catalogue):
    first, other, again = take_in(contributor, raw(pairs=[]), raw(pairs=[], worn_min=19_000), raw(pairs=[]))
    assert again == [*first, "own_duplicate"]
    assert other == first
    assert take_in(contributor, raw(pairs=[], worn_min=19_000)) == [again]


def test_many_ask_the_database_no_more_often_than_one(contributor, stranger, catalogue):
    def n_queries(member, *records):
        with CaptureQueriesContext(connection) as queries:
            take_in(member, *records)
        return len(queries)

    assert n_queries(contributor, *(raw(seed=seed, plan=None) for seed in range(12))) == n_queries(
        stranger, raw(plan=None)
    )


def test_without_consent_none_is_taken(contributor, catalogue):
    record_consent(contributor.account, scope="keep", given=False, text_version=1)
    with pytest.raises(Conflict):
        take_in(contributor, raw())
    assert n_rows() == {0}


def test_an_account_holds_so_many_wears(contributor, catalogue, monkeypatch):
    monkeypatch.setattr(intake, "MOST_WEARS", 3)
    take_in(contributor, raw(), raw(seed=2))
    with pytest.raises(Conflict, match="at most"):
        take_in(contributor, raw(seed=3), raw(seed=4))
    assert n_rows() == {2}
