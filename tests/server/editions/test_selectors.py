"""What readers are shown, and that hidden, missing and foreign look alike."""

import hashlib
import json
from datetime import date

import pytest

from server.core.errors import NotFound
from server.editions.selectors import edition_for_reader, editions_list, has_published, next_edition_date
from server.editions.services import publish_draft
from server.groups.models import Group
from server.groups.services import change_protocol
from tests.server.editions.conftest import FIRST


@pytest.fixture
def published(sealed):
    """Editions 1 and 2 of the group."""
    for slot in (1, 2):
        if slot > 1:
            sealed.cut_off(slot)
        publish_draft(sealed.group, sealed.draft().pk, by=sealed.moderator.account)
    return sealed


def test_anybody_reads_a_public_group_newest_first(published):
    assert [(line.number, line.cut_off) for line in editions_list("harbour", None)] == [
        (2, date(2031, 4, 1)),
        (1, date(2031, 3, 1)),
    ]
    assert edition_for_reader("harbour", "latest", None).number == 2
    first = edition_for_reader("harbour", 1, None)
    assert first.sha256 == hashlib.sha256(first.content).hexdigest()
    assert first.document == json.loads(first.content)
    assert first.document["number"] == 1
    assert has_published("harbour")
    assert not has_published("everyone")


def test_hidden_missing_and_foreign_are_answered_alike(published):
    Group.objects.filter(slug="harbour").update(public=False)
    member, stranger = published.crowd[0].account, published.new_member().account
    assert edition_for_reader("harbour", 1, member).number == 1
    told = set()
    for slug, account in (("harbour", stranger), ("harbour", None), ("nobody", stranger)):
        for read in (lambda s, a: edition_for_reader(s, 1, a), editions_list):
            with pytest.raises(NotFound) as refused:
                read(slug, account)
            told.add(refused.value.detail)
    assert len(told) == 1


def test_an_edition_that_is_not_there_is_not_found(published):
    for number in (0, 3, 10**30):
        with pytest.raises(NotFound):
            edition_for_reader("harbour", number, None)
    with pytest.raises(NotFound):
        edition_for_reader("everyone", "latest", None)
    assert editions_list("everyone", None) == []


def test_the_next_edition_date_follows_the_groups_own_calendar(pool):
    dates = []
    for months in (1, 3):
        change_protocol(pool.group, by=pool.moderator.account, months_between_editions=months)
        dates.append(next_edition_date(pool.group.slug, None, today=FIRST))
    assert dates == [date(2031, 4, 1), date(2031, 5, 1)]
