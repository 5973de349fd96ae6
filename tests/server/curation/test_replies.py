"""Answers and appeals of owners, with their entries in the record."""

import pytest

from server.core.errors import Conflict, Invalid, NotFound
from server.curation import replies, services
from server.curation.models import Decision
from server.groups.services import appoint_moderator
from server.wears import cutoff
from server.wears.services import take_back
from server.wears.transitions import State

pytestmark = pytest.mark.django_db


@pytest.fixture
def asked(give, contributor, group, moderator):
    wear = give(contributor)
    services.ask_owner(group, wear.id, question="site", by=moderator.account)
    return wear


@pytest.fixture
def left_out(give, contributor, group, moderator):
    wear = give(contributor)
    services.exclude_wear(group, wear.id, code="stuck", by=moderator.account)
    cutoff.show_states()
    return wear


def said(wear):
    wear.refresh_from_db()
    return wear.state, [(entry.action, entry.code) for entry in Decision.objects.order_by("number")]


@pytest.mark.parametrize(
    ("answer", "value", "site"),
    [("confirmed", None, "thigh.front"), ("not_known", None, "thigh.front"), ("corrected", "calf", "calf")],
)
def test_an_answer_queues_the_wear_and_stands_in_the_record_without_its_value(asked, contributor, answer, value, site):
    replies.answer_question(asked.id, account=contributor.account, answer=answer, value=value)
    assert said(asked) == (State.QUEUED, [("ask", "site"), ("answer", answer)])
    assert asked.header["site"] == site
    assert "calf" not in str(list(Decision.objects.values()))


@pytest.mark.parametrize(
    ("answer", "value", "pointer"),
    [
        ("wrong", None, "#/answer"),
        ("perhaps", None, "#/answer"),
        ("corrected", None, "#/value"),
        ("confirmed", "calf", "#/value"),
        ("corrected", "thigh.front", "#/value"),
        ("corrected", "knee", "#/value"),
    ],
)
def test_an_answer_that_is_none_changes_nothing(asked, contributor, answer, value, pointer):
    with pytest.raises(Invalid) as refused:
        replies.answer_question(asked.id, account=contributor.account, answer=answer, value=value)
    assert refused.value.faults[0]["pointer"] == pointer
    assert said(asked) == (State.ASKED, [("ask", "site")])


def test_what_nobody_asked_is_not_answered(give, upload, contributor):
    for wear in (give(contributor), upload(contributor, seed=2)):
        with pytest.raises(Conflict, match="Nothing is asked"):
            replies.answer_question(wear.id, account=contributor.account, answer="confirmed")


def test_an_appeal_is_for_its_owner_once_and_after_it_was_told(give, left_out, contributor, group, moderator):
    early = give(contributor, seed=5)
    services.exclude_wear(group, early.id, code="stuck", by=moderator.account)
    with pytest.raises(Conflict, match="Nothing has been decided"):
        replies.appeal(early.id, account=contributor.account, ground="readings_right")
    with pytest.raises(NotFound):
        replies.appeal(left_out.id, account=moderator.account, ground="readings_right")
    with pytest.raises(Invalid):
        replies.appeal(left_out.id, account=contributor.account, ground="I think so")
    replies.appeal(left_out.id, account=contributor.account, ground="readings_right")
    left_out.refresh_from_db()
    assert (left_out.state, left_out.appealed) == (State.QUEUED, True)
    services.exclude_wear(group, left_out.id, code="stuck", by=moderator.account)
    cutoff.show_states()
    with pytest.raises(Conflict, match="appealed already"):
        replies.appeal(left_out.id, account=contributor.account, ground="readings_right")


def test_an_appeal_is_decided_by_another_moderator_where_there_is_one(
    left_out, contributor, stranger, group, moderator
):
    appoint_moderator(group, account=stranger.account)
    replies.appeal(left_out.id, account=contributor.account, ground="readings_right")
    with pytest.raises(Conflict, match="Another moderator"):
        services.exclude_wear(group, left_out.id, code="stuck", by=moderator.account)
    services.approve_wear(group, left_out.id, by=stranger.account)
    assert said(left_out)[0] == State.APPROVED


def test_an_appeal_about_what_was_counted_is_decided_in_the_record_alone(approve, contributor, group, moderator):
    wear = approve(contributor)
    cutoff.mark_waiting_slot(slot=1)
    cutoff.mark_admitted([wear.id], family="accuracy", end_bucket=24)
    services.exclude_wear(group, wear.id, code="stuck", by=moderator.account)
    cutoff.show_states()
    replies.appeal(wear.id, account=contributor.account, ground="readings_right")
    services.approve_wear(group, wear.id, by=moderator.account)
    state, entries = said(wear)
    assert [action for action, _ in entries] == ["approve", "exclude", "appeal", "approve"]
    assert (state, wear.appealed, wear.awaited.count()) == (State.ADMITTED, False, 0)


def test_what_is_taken_back_is_neither_answered_nor_appealed(asked, left_out, contributor):
    for wear in (asked, left_out):
        take_back(wear.id, account=contributor.account)
    with pytest.raises(Conflict):
        replies.answer_question(asked.id, account=contributor.account, answer="confirmed")
    with pytest.raises(Conflict):
        replies.appeal(left_out.id, account=contributor.account, ground="readings_right")
