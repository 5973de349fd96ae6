import pytest

from server.core.errors import Conflict, Forbidden, Invalid, NotFound
from server.curation import services
from server.curation.models import Decision
from server.groups.selectors import protocol_of
from server.wears.transitions import State

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


def test_sums_are_not_ended_by_a_decision_about_a_wear(give, contributor, group, moderator):
    assert "close" not in services.ACTIONS
