"""What readers and moderators are shown, and that hidden, missing and foreign look alike."""

import hashlib
import json
from datetime import date
from uuid import uuid4

import pytest

from server.core.errors import Forbidden, NotFound
from server.editions.selectors import (
    date_of,
    draft_for_moderator,
    drafts_list,
    edition_for_reader,
    editions_list,
    has_published,
    latest_sealed_slot,
    next_cut_off,
    next_edition_date,
    next_to_seal,
)
from server.editions.services import publish_draft, start_draft
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


def test_a_draft_shows_its_parts_and_only_what_would_be_published(sealed):
    draft = start_draft(sealed.group, by=sealed.moderator.account)
    view = draft_for_moderator(sealed.group, draft.pk, account=sealed.moderator.account)
    assert (view.state, view.number, view.document, view.overtaken) == ("fitting", 1, None, False)
    assert {part.state for part in view.parts} == {"due"}
    sealed.run_due_jobs()
    view = draft_for_moderator(sealed.group, draft.pk, account=sealed.moderator.account)
    assert {part.state for part in view.parts} == {"done"}
    edition = publish_draft(sealed.group, draft.pk, by=sealed.moderator.account)
    assert view.document == json.loads(bytes(edition.document))


def test_a_draft_says_when_it_is_overtaken(sealed):
    draft = sealed.draft()
    sealed.cut_off(2)
    assert drafts_list(sealed.group, account=sealed.moderator.account)[0].overtaken is True
    assert draft_for_moderator(sealed.group, draft.pk, account=sealed.moderator.account).overtaken is True


def test_drafts_are_for_moderators(sealed, stranger):
    draft = sealed.draft()
    for read in (
        lambda account: draft_for_moderator(sealed.group, draft.pk, account=account),
        lambda account: drafts_list(sealed.group, account=account),
    ):
        with pytest.raises(Forbidden):
            read(sealed.crowd[0].account)
        with pytest.raises(NotFound):
            read(stranger.account)
    with pytest.raises(NotFound):
        draft_for_moderator(sealed.group, uuid4(), account=sealed.moderator.account)


def test_dates_of_cut_offs(sealed):
    assert latest_sealed_slot().number == 1
    assert next_cut_off(date(2031, 3, 1)) == date(2031, 4, 1)
    assert next_cut_off(date(2030, 1, 1)) == date(2031, 3, 1)
    assert date_of(next_to_seal()) == date(2031, 4, 1)


def test_the_next_edition_date_follows_the_groups_own_calendar(pool):
    dates = []
    for months in (1, 3):
        change_protocol(pool.group, by=pool.moderator.account, months_between_editions=months)
        dates.append(next_edition_date(pool.group.slug, None, today=FIRST))
    assert dates == [date(2031, 4, 1), date(2031, 5, 1)]
