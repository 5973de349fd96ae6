"""Asking, answering, appealing, and leaving out what an edition date has passed over."""

import pytest

from server.core.errors import Conflict, NotFound
from server.wears import curating, cutoff
from server.wears.models import Awaited
from server.wears.services import erase_wear, take_back
from server.wears.transitions import State

pytestmark = pytest.mark.django_db


@pytest.fixture
def counted(approve, contributor):
    """A wear that counts for its accuracy and waits in the other families."""
    wear = approve(contributor)
    cutoff.mark_waiting_slot(slot=1)
    cutoff.mark_admitted([wear.id], family="accuracy", end_bucket=24)
    wear.refresh_from_db()
    return wear


def test_a_question_is_seen_at_once_and_its_answer_queues_the_wear_again(give, contributor, group):
    wear = give(contributor)
    curating.ask(wear.id, group=group)
    wear.refresh_from_db()
    assert (wear.state, wear.shown_state) == (State.ASKED, State.ASKED)
    curating.answer(wear.id, account=contributor.account)
    wear.refresh_from_db()
    assert (wear.state, wear.shown_state) == (State.QUEUED, State.QUEUED)
    with pytest.raises(Conflict, match="Nothing is asked"):
        curating.answer(wear.id, account=contributor.account)


def test_an_answer_that_mends_a_tag_changes_the_record(give, contributor, group):
    wear = give(contributor)
    curating.ask(wear.id, group=group)
    curating.answer(wear.id, account=contributor.account, tag="site", value="calf")
    wear.refresh_from_db()
    assert (wear.header["site"], wear.state, wear.copied) == ("calf", State.QUEUED, None)


def test_nobody_answers_or_appeals_for_another(give, contributor, moderator, group):
    wear = give(contributor)
    curating.ask(wear.id, group=group)
    for act in (curating.answer, curating.appeal):
        with pytest.raises(NotFound):
            act(wear.id, account=moderator.account)


def test_an_appeal_queues_again_what_was_left_out_and_no_other(give, contributor, group):
    wear = give(contributor)
    with pytest.raises(Conflict):
        curating.appeal(wear.id, account=contributor.account)
    curating.exclude(wear.id, group=group)
    curating.appeal(wear.id, account=contributor.account)
    wear.refresh_from_db()
    assert (wear.state, wear.shown_state, wear.appealed) == (State.QUEUED, State.QUEUED, True)
    curating.approve(wear.id, group=group)
    wear.refresh_from_db()
    assert (wear.state, wear.appealed) == (State.APPROVED, False)


def test_what_is_left_out_after_it_was_counted_in_part_enters_nothing_further(counted, group):
    assert Awaited.objects.filter(wear=counted).exists()
    curating.count_no_more(counted.id, group=group)
    counted.refresh_from_db()
    assert (counted.state, counted.end_bucket) == (State.ADMITTED, 24)
    assert not Awaited.objects.filter(wear=counted).exists()
    cutoff.mark_waiting_slot(slot=2)
    assert not Awaited.objects.filter(wear=counted).exists()


def test_what_still_waits_when_it_is_left_out_never_enters(approve, contributor, group):
    wear = approve(contributor)
    cutoff.mark_waiting_slot(slot=1)
    curating.count_no_more(wear.id, group=group)
    wear.refresh_from_db()
    assert (wear.previous_state, wear.state, wear.awaited.count()) == (State.QUEUED, State.EXCLUDED, 0)


@pytest.mark.parametrize("leave", [take_back, erase_wear], ids=["taken back", "erased"])
def test_leaving_out_what_its_owner_has_taken_away_is_answered_alike(counted, contributor, group, leave):
    leave(counted.id, account=contributor.account)
    curating.count_no_more(counted.id, group=group)


@pytest.mark.parametrize("decide", [curating.approve, curating.exclude], ids=["upheld", "not upheld"])
def test_an_appeal_about_what_was_counted_changes_no_figure(counted, contributor, group, decide):
    curating.count_no_more(counted.id, group=group)
    curating.appeal(counted.id, account=contributor.account)
    counted.refresh_from_db()
    assert (counted.state, counted.appealed) == (State.ADMITTED, True)
    decide(counted.id, group=group)
    counted.refresh_from_db()
    assert (counted.state, counted.appealed, counted.awaited.count()) == (State.ADMITTED, False, 0)


def test_what_was_counted_takes_no_decision_without_an_appeal(counted, group):
    for decide in (curating.approve, curating.exclude, curating.queue_again, curating.ask):
        with pytest.raises(Conflict):
            decide(counted.id, group=group)
