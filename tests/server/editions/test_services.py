"""Due cut-offs, and a draft's way to an edition or out of the way."""

import hashlib
import json
from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction

from server.core.errors import Conflict, Forbidden, NotFound
from server.core.services import sweep
from server.editions import fitting
from server.editions.models import Draft, DraftState, Edition, FitPart, Slot
from server.editions.services import (
    discard_draft,
    publish_draft,
    run_cut_off_of,
    run_due_cut_offs,
    start_draft,
)
from server.groups.services import change_protocol
from tests.server.editions.conftest import FIRST


def test_all_slots_whose_date_has_come_are_sealed_in_order_once(pool):
    assert run_due_cut_offs(FIRST - timedelta(days=1)) == ()
    assert run_due_cut_offs(date(2031, 5, 1)) == (1, 2, 3)
    assert run_due_cut_offs(date(2031, 5, 1)) == ()
    assert run_due_cut_offs(date(2031, 6, 1)) == (4,)
    assert list(Slot.objects.order_by("number").values_list("cut_off", flat=True)) == [
        date(2031, month, 1) for month in (3, 4, 5, 6)
    ]


def test_the_sweep_passes_due_cut_offs(pool):
    pool.clock.set(FIRST)
    sweep()
    assert Slot.objects.get().number == 1


def test_no_slot_is_sealed_before_its_date(pool):
    with pytest.raises(Conflict, match="Slot 1 is cut off on 2031-03-01"):
        run_cut_off_of(1, today=FIRST - timedelta(days=1))
    with pytest.raises(Conflict):
        run_cut_off_of(0, today=FIRST)
    assert run_cut_off_of(1, today=FIRST) is True
    assert run_cut_off_of(1, today=FIRST) is False


def test_a_ready_draft_becomes_the_edition_of_its_slot_byte_for_byte(sealed):
    draft = sealed.draft()
    content = bytes(draft.document)
    edition = publish_draft(sealed.group, draft.pk, by=sealed.moderator.account)
    edition.refresh_from_db()
    assert bytes(edition.document) == content
    assert edition.sha256 == hashlib.sha256(content).hexdigest()
    assert (edition.number, edition.published_month) == (1, date(2031, 3, 1))
    draft.refresh_from_db()
    assert (draft.state, draft.document) == (DraftState.PUBLISHED, None)
    assert not FitPart.objects.exists()


def test_a_slot_has_at_most_one_edition_a_group(sealed):
    publish_draft(sealed.group, sealed.draft().pk, by=sealed.moderator.account)
    with pytest.raises(Conflict, match="Edition 1 is published"):
        start_draft(sealed.group, by=sealed.moderator.account)
    with pytest.raises(IntegrityError), transaction.atomic():
        Edition.objects.create(
            group=sealed.group, slot_id=1, document=b"{}", sha256="0" * 64, published_month=date(2031, 3, 1)
        )


def test_a_draft_is_published_once(sealed):
    draft = sealed.draft()
    publish_draft(sealed.group, draft.pk, by=sealed.moderator.account)
    with pytest.raises(Conflict, match="this one is published"):
        publish_draft(sealed.group, draft.pk, by=sealed.moderator.account)


def test_a_draft_that_is_not_ready_cannot_be_published(sealed):
    draft = start_draft(sealed.group, by=sealed.moderator.account)
    with pytest.raises(Conflict, match="this one is fitting"):
        publish_draft(sealed.group, draft.pk, by=sealed.moderator.account)


def test_a_draft_overtaken_by_a_cut_off_says_what_to_do(sealed):
    draft = sealed.draft()
    sealed.cut_off(2)
    with pytest.raises(Conflict, match=fitting.OVERTAKEN):
        publish_draft(sealed.group, draft.pk, by=sealed.moderator.account)
    assert not Edition.objects.exists()
    discard_draft(sealed.group, draft.pk, by=sealed.moderator.account)
    again = sealed.draft()
    assert publish_draft(sealed.group, again.pk, by=sealed.moderator.account).number == 2


def test_there_is_one_live_draft_a_slot(sealed):
    draft = start_draft(sealed.group, by=sealed.moderator.account)
    with pytest.raises(Conflict, match="There is a draft of edition 1 already"):
        start_draft(sealed.group, by=sealed.moderator.account)
    discard_draft(sealed.group, draft.pk, by=sealed.moderator.account)
    assert start_draft(sealed.group, by=sealed.moderator.account).pk != draft.pk


def test_a_discarded_draft_is_emptied_and_its_jobs_find_nothing_to_do(sealed):
    draft = start_draft(sealed.group, by=sealed.moderator.account)
    n_parts = draft.parts.count()
    discard_draft(sealed.group, draft.pk, by=sealed.moderator.account)
    assert sealed.run_due_jobs() == n_parts >= 5
    draft.refresh_from_db()
    assert (draft.state, draft.document) == (DraftState.DISCARDED, None)
    assert not FitPart.objects.exists()


def test_what_is_published_cannot_be_discarded(sealed):
    draft = sealed.draft()
    publish_draft(sealed.group, draft.pk, by=sealed.moderator.account)
    with pytest.raises(Conflict, match="can only be taken back"):
        discard_draft(sealed.group, draft.pk, by=sealed.moderator.account)


def test_before_the_first_cut_off_there_is_nothing_to_draft(pool):
    with pytest.raises(Conflict, match="the first cut-off is on 2031-03-01"):
        start_draft(pool.group, by=pool.moderator.account)


def test_a_cut_off_that_is_due_comes_before_any_draft(sealed):
    sealed.clock.set(date(2031, 4, 1))
    with pytest.raises(Conflict, match="has not been sealed yet"):
        start_draft(sealed.group, by=sealed.moderator.account)


def test_drafts_are_for_moderators_and_for_strangers_there_is_no_group(sealed, stranger):
    draft = sealed.draft()
    for act in (
        lambda by: start_draft(sealed.group, by=by),
        lambda by: publish_draft(sealed.group, draft.pk, by=by),
        lambda by: discard_draft(sealed.group, draft.pk, by=by),
    ):
        with pytest.raises(Forbidden):
            act(sealed.crowd[0].account)
        with pytest.raises(NotFound):
            act(stranger.account)
    assert Draft.objects.get().state == DraftState.READY


def test_a_draft_of_another_group_is_not_found(sealed, member_of_another_group):
    from server.groups.models import Group

    draft, meadow = sealed.draft(), Group.objects.get(slug="meadow")
    for act in (publish_draft, discard_draft):
        with pytest.raises(NotFound):
            act(meadow, draft.pk, by=member_of_another_group.account)


def test_a_group_of_fewer_editions_drafts_at_its_own_dates_alone(pool):
    change_protocol(pool.group, by=pool.moderator.account, months_between_editions=2)
    pool.cut_off(1)
    with pytest.raises(Conflict, match="every 2 months; the next can be drafted after 2031-04-01"):
        pool.draft()
    pool.cut_off(2)
    document = json.loads(bytes(pool.draft().document))
    assert (document["number"], document["next_cut_off"]) == (2, "2031-06-01")


def test_a_room_has_no_figures_of_its_own_to_draft(pool):
    change_protocol(pool.group, by=pool.moderator.account, room=True)
    pool.cut_off(1)
    with pytest.raises(Conflict, match="a room over the figures of everyone"):
        pool.draft()
