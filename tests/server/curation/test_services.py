from functools import partial
from uuid import uuid4

import pytest

from server.core.errors import Conflict, Forbidden, Invalid, NotFound
from server.curation import services
from server.curation.models import Decision
from server.curation.replies import appeal
from server.curation.selectors import wear_for_moderator
from server.groups.selectors import protocol_of
from server.wears import curating, cutoff
from server.wears.models import Awaited, Wear
from server.wears.selectors import NOT_IN_QUEUE
from server.wears.services import erase_wear
from server.wears.transitions import State
from tests.server.records import pairs

pytestmark = pytest.mark.django_db


def test_an_approval_lets_the_wear_wait_and_stands_in_the_record(give, contributor, group, moderator):
    wear = give(contributor)
    decision = services.approve_wear(group, wear.id, by=moderator.account)
    wear.refresh_from_db()
    assert wear.state == State.APPROVED
    assert (decision.number, decision.action, decision.code) == (1, "approve", "")
    assert decision.protocol_version == protocol_of(group).version
    assert str(moderator.account.id) not in decision.moderator_mark


def test_a_wear_is_left_out_for_a_listed_reason_alone(give, contributor, group, moderator):
    wear = give(contributor)
    with pytest.raises(Invalid) as refused:
        services.exclude_wear(group, wear.id, code="I do not like it", by=moderator.account)
    assert refused.value.faults[0]["pointer"] == "#/code"
    assert not Decision.objects.exists()
    services.exclude_wear(group, wear.id, code="copied", by=moderator.account)
    wear.refresh_from_db()
    assert wear.state == State.EXCLUDED


def test_a_decision_is_undone_by_a_further_one(give, contributor, group, moderator):
    wear = give(contributor)
    services.exclude_wear(group, wear.id, code="stuck", by=moderator.account)
    services.undo_decision(group, wear.id, by=moderator.account)
    wear.refresh_from_db()
    assert wear.state == State.QUEUED
    assert [decision.action for decision in Decision.objects.order_by("number")] == ["exclude", "undo"]


def test_what_was_left_out_comes_back_after_an_edition_date_by_an_appeal_alone(give, contributor, group, moderator):
    wear = give(contributor)
    services.exclude_wear(group, wear.id, code="stuck", by=moderator.account)
    cutoff.show_states()
    for again in (services.undo_decision, partial(services.exclude_wear, code="stuck")):
        with pytest.raises(Conflict, match="only if its owner appeals"):
            again(group, wear.id, by=moderator.account)
    for as_if_new in (services.approve_wear, partial(services.ask_owner, question="site")):
        with pytest.raises(NotFound):
            as_if_new(group, wear.id, by=moderator.account)
    with pytest.raises(NotFound):
        wear_for_moderator(group, wear.id, account=moderator.account)
    with pytest.raises(Conflict, match="only if its owner appeals"):
        curating.queue_again(wear.id, group=group)
    assert Decision.objects.count() == 1
    appeal(wear.id, account=contributor.account, ground="readings_right")
    assert wear_for_moderator(group, wear.id, account=moderator.account).appealed
    services.approve_wear(group, wear.id, by=moderator.account)
    services.undo_decision(group, wear.id, by=moderator.account)
    wear.refresh_from_db()
    assert wear.state == State.QUEUED


def test_the_second_of_two_moderators_finds_the_wear_decided(give, contributor, group, moderator):
    wear = give(contributor)
    services.approve_wear(group, wear.id, by=moderator.account)
    with pytest.raises(Conflict):
        services.approve_wear(group, wear.id, by=moderator.account)
    assert Decision.objects.count() == 1


def test_a_moderators_own_wear_waits_for_somebody_else(give, group, moderator):
    with pytest.raises(NotFound):
        services.approve_wear(group, give(moderator).id, by=moderator.account)


def test_members_and_strangers_decide_nothing(give, contributor, group, stranger):
    wear = give(contributor)
    with pytest.raises(Forbidden):
        services.approve_wear(group, wear.id, by=contributor.account)
    with pytest.raises(NotFound):
        services.approve_wear(group, wear.id, by=stranger.account)


@pytest.mark.parametrize(
    ("action", "code", "state"),
    [("approve", "", State.APPROVED), ("exclude", "copied", State.EXCLUDED)],
)
def test_a_decision_by_its_name(give, contributor, group, moderator, action, code, state):
    wear = give(contributor)
    services.decide(group, wear.id, action=action, code=code, by=moderator.account)
    wear.refresh_from_db()
    assert wear.state == state
    services.decide(group, wear.id, action="undo", code="", by=moderator.account)


def test_an_approval_takes_no_reason(give, contributor, group, moderator):
    with pytest.raises(Conflict):
        services.decide(group, give(contributor).id, action="approve", code="copied", by=moderator.account)


def test_an_early_end_of_sums_stands_in_the_record_with_its_reason(group, moderator, contributor, stranger):
    closes = "calf|demo-a14|24|skin"
    decision = services.record_closing(group, closes=closes, code="stuck", by=moderator.account)
    assert (decision.number, decision.action, decision.code, decision.wear_mark) == (1, "close", "stuck", "")
    assert decision.protocol_version == protocol_of(group).version
    with pytest.raises(Invalid):
        services.record_closing(group, closes=closes, code="", by=moderator.account)
    for somebody, refusal in ((contributor, Forbidden), (stranger, NotFound)):
        with pytest.raises(refusal):
            services.record_closing(group, closes=closes, code="stuck", by=somebody.account)
    assert Decision.objects.count() == 1


@pytest.fixture
def passed_over(approve, contributor):
    """Approved wears of one owner after an edition date: one waits, one counts in part, one in full, one is erased."""
    wears = [approve(contributor, seed=seed) for seed in range(1, 5)]
    cutoff.mark_waiting_slot(slot=1)
    cutoff.mark_admitted([wear.id for wear in wears[1:]], family="accuracy", end_bucket=24)
    Awaited.objects.filter(wear__in=wears[2:]).delete()
    erase_wear(wears[3].id, account=contributor.account)
    return [wear.id for wear in wears]


def test_after_an_edition_date_no_answer_tells_whether_a_wear_was_counted(passed_over, group, moderator):
    for wear_id in passed_over:
        with pytest.raises(Conflict, match="edition date has passed"):
            services.undo_decision(group, wear_id, by=moderator.account)
        with pytest.raises(NotFound):
            wear_for_moderator(group, wear_id, account=moderator.account)
        with pytest.raises(NotFound):
            services.approve_wear(group, wear_id, by=moderator.account)
        decision = services.exclude_wear(group, wear_id, code="stuck", by=moderator.account)
        assert (decision.action, decision.code) == ("exclude", "stuck")
        with pytest.raises(NotFound):
            wear_for_moderator(group, wear_id, account=moderator.account)
        with pytest.raises(Conflict, match="left out already"):
            services.exclude_wear(group, wear_id, code="stuck", by=moderator.account)
        with pytest.raises(Conflict, match="left out already"):
            services.undo_decision(group, wear_id, by=moderator.account)
    assert not Awaited.objects.exists()


def test_a_wear_that_was_never_approved_here_is_left_out_by_nobody(upload, contributor, group, moderator):
    for wear_id in (upload(contributor).id, uuid4()):
        for act in (
            lambda wear_id=wear_id: services.exclude_wear(group, wear_id, code="stuck", by=moderator.account),
            lambda wear_id=wear_id: services.undo_decision(group, wear_id, by=moderator.account),
            lambda wear_id=wear_id: services.ask_owner(group, wear_id, question="site", by=moderator.account),
        ):
            with pytest.raises(NotFound):
                act()
    assert not Decision.objects.exists()


def test_a_question_is_one_of_the_list_asked_once_of_what_waits_for_a_decision(give, contributor, group, moderator):
    wear = give(contributor)
    with pytest.raises(Invalid) as refused:
        services.ask_owner(group, wear.id, question="What is your name?", by=moderator.account)
    assert refused.value.faults[0]["pointer"] == "#/question"
    services.ask_owner(group, wear.id, question="site", by=moderator.account)
    for decide in (services.approve_wear, lambda *a, **k: services.exclude_wear(*a, code="stuck", **k)):
        with pytest.raises(Conflict, match="asked meanwhile"):
            decide(group, wear.id, by=moderator.account)
    services.undo_decision(group, wear.id, by=moderator.account)
    with pytest.raises(Conflict, match="asked this before"):
        services.ask_owner(group, wear.id, question="site", by=moderator.account)
    with pytest.raises(Conflict, match="Nothing has been decided"):
        services.undo_decision(group, wear.id, by=moderator.account)
    services.ask_owner(group, wear.id, question="columns", by=moderator.account)


def test_who_comes_second_is_told_what_happened(give, contributor, group, moderator):
    wear = give(contributor)
    services.approve_wear(group, wear.id, by=moderator.account)
    with pytest.raises(Conflict, match="approved meanwhile"):
        services.exclude_wear(group, wear.id, code="stuck", by=moderator.account)
    services.undo_decision(group, wear.id, by=moderator.account)
    services.exclude_wear(group, wear.id, code="stuck", by=moderator.account)
    with pytest.raises(Conflict, match="left out meanwhile"):
        services.approve_wear(group, wear.id, by=moderator.account)


def test_clean_wears_are_approved_together_each_with_its_own_entry(give, contributor, group, moderator):
    clean = [give(contributor, seed=seed).id for seed in (1, 2)]
    odd = give(contributor, pairs=[one | {"sensor": 120} for one in pairs()]).id
    own, unknown = give(moderator, seed=4).id, uuid4()
    hidden = give(contributor, seed=5, released=False).id
    done = services.approve_clean(group, [*clean, odd, own, unknown, hidden, clean[0]], by=moderator.account)
    assert [entry.number for entry in done.approved] == [1, 2]
    assert {left.wear_id for left in done.left} == {odd, own, unknown, hidden}
    assert {left.why for left in done.left if left.wear_id != odd} == {NOT_IN_QUEUE}
    assert Wear.objects.filter(state=State.APPROVED).count() == 2
    again = services.approve_clean(group, clean, by=moderator.account)
    assert (again.approved, {left.why for left in again.left}) == ((), {services.HAPPENED[State.APPROVED]})


def test_approving_together_has_a_limit_and_is_for_moderators(give, contributor, group, moderator):
    for wears in ([], [uuid4() for _ in range(services.MOST_AT_ONCE + 1)]):
        with pytest.raises(Invalid) as refused:
            services.approve_clean(group, wears, by=moderator.account)
        assert refused.value.faults[0]["pointer"] == "#/wears"
    with pytest.raises(Forbidden):
        services.approve_clean(group, [give(contributor).id], by=contributor.account)


def test_sums_are_not_ended_by_a_decision_about_a_wear(give, contributor, group, moderator):
    assert "close" not in services.ACTIONS
