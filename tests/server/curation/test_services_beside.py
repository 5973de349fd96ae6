"""Two at the same wear at once: one of them is first, the other is told what happened, and nothing is lost."""

from collections.abc import Callable

import pytest

from server.core.errors import Conflict, NotFound, ServiceError
from server.curation import record, services
from server.curation.models import Decision
from server.curation.replies import answer_question
from server.groups.services import appoint_moderator
from server.wears.models import Awaited, Wear
from server.wears.services import erase_wear, take_back
from server.wears.transitions import State
from tests.server.editions.test_admission_beside import beside

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def colleague(new_member, group):
    member = new_member()
    appoint_moderator(group, account=member.account)
    return member


def refused(act: Callable[[], object]) -> tuple[Callable[[], None], list[ServiceError]]:
    """The same act, and a list of what it was refused with."""
    told: list[ServiceError] = []

    def tried() -> None:
        try:
            act()
        except ServiceError as refusal:
            told.append(refusal)

    return tried, told


def actions():
    return list(Decision.objects.order_by("number").values_list("action", flat=True))


def test_of_two_moderators_one_decides_and_the_other_is_told(give, contributor, group, moderator, colleague):
    wear = give(contributor)
    second, told = refused(lambda: services.exclude_wear(group, wear.id, code="stuck", by=colleague.account))
    beside(lambda: services.approve_wear(group, wear.id, by=moderator.account), second)
    assert [type(refusal) for refusal in told] == [Conflict]
    assert "approved meanwhile" in told[0].detail
    assert (Wear.objects.get(pk=wear.pk).state, actions()) == (State.APPROVED, ["approve"])


def test_decisions_about_different_wears_are_chained_one_after_the_other(
    give, contributor, group, moderator, colleague
):
    first, second = (give(contributor, seed=seed) for seed in (1, 2))
    beside(
        lambda: services.approve_wear(group, first.id, by=moderator.account),
        lambda: services.approve_wear(group, second.id, by=colleague.account),
        lambda: services.approve_clean(group, [second.id], by=moderator.account),
    )
    assert Decision.objects.filter(action="approve").count() == 2
    assert record.chain_is_whole(group)


@pytest.mark.parametrize("leave", [take_back, erase_wear], ids=["taken back", "erased"])
def test_a_wear_on_its_way_out_is_decided_by_nobody(give, contributor, group, moderator, leave):
    wear = give(contributor)
    decided, told = refused(lambda: services.approve_wear(group, wear.id, by=moderator.account))
    beside(lambda: leave(wear.id, account=contributor.account), decided)
    assert [type(refusal) for refusal in told] == [NotFound]
    assert actions() == []


@pytest.mark.parametrize("code", ["", "stuck"], ids=["approved", "left out"])
def test_a_wear_that_is_being_decided_is_taken_back_all_the_same(give, contributor, group, moderator, code):
    wear = give(contributor)
    action = "exclude" if code else "approve"
    beside(
        lambda: services.decide(group, wear.id, action=action, code=code, by=moderator.account),
        lambda: take_back(wear.id, account=contributor.account),
    )
    kept = Wear.objects.get(pk=wear.pk)
    assert (kept.state, kept.shown_state, kept.group, kept.released) == (State.PRIVATE, State.PRIVATE, None, False)
    assert (actions(), Awaited.objects.count()) == ([action], 0)


def test_an_answer_and_the_end_of_its_question_do_not_both_happen(give, contributor, group, moderator):
    wear = give(contributor)
    services.ask_owner(group, wear.id, question="site", by=moderator.account)
    answered, told = refused(
        lambda: answer_question(wear.id, account=contributor.account, answer="corrected", value="calf")
    )
    beside(lambda: services.undo_decision(group, wear.id, by=moderator.account), answered)
    kept = Wear.objects.get(pk=wear.pk)
    assert [type(refusal) for refusal in told] == [Conflict]
    assert (kept.state, kept.header["site"], actions()) == (State.QUEUED, "thigh.front", ["ask", "undo"])


def test_what_a_running_cut_off_counts_is_kept_out_of_the_rest_by_who_comes_after(
    give, contributor, group, moderator, clock
):
    from server.wears import cutoff

    wear = give(contributor)
    services.approve_wear(group, wear.id, by=moderator.account)

    def count() -> None:
        cutoff.mark_waiting_slot(slot=1)
        cutoff.mark_admitted([wear.id], family="accuracy", end_bucket=24)

    undone, told = refused(lambda: services.undo_decision(group, wear.id, by=moderator.account))
    beside(count, undone)
    assert "edition date has passed" in told[0].detail
    services.exclude_wear(group, wear.id, code="stuck", by=moderator.account)
    assert (Wear.objects.get(pk=wear.pk).state, Awaited.objects.count()) == (State.ADMITTED, 0)
