"""The steps that curation and the cut-off take: summaries under the rules in force, slots, admission, what is shown."""

from uuid import uuid4

import pytest

from pooling import summary as summaries
from server.accounts.services import record_consent
from server.core.errors import Conflict, NotFound
from server.groups.selectors import everyone
from server.groups.services import appoint_moderator, change_protocol
from server.wears import curating, cutoff, services
from server.wears.models import Awaited, Wear, WearPairs
from server.wears.selectors import waiting_wears
from server.wears.transitions import State
from tests.server.records import pairs

pytestmark = pytest.mark.django_db


def rules_of(wear):
    wear.summary.refresh_from_db()
    return summaries.from_bytes(bytes(wear.summary.payload)).rules


def test_approval_summarises_under_the_groups_rules(give, moderator, contributor, group):
    change_protocol(group, by=moderator.account, widest_gap_min=3)
    wear = give(contributor)
    assert wear.summary.n_pairs == 20
    version = curating.approve(wear.id, group=group)
    wear.refresh_from_db()
    wear.summary.refresh_from_db()
    assert (version, wear.state, wear.shown_state) == (2, State.APPROVED, State.QUEUED)
    assert (wear.summary.protocol_version, wear.summary.everyone_version, wear.summary.n_pairs) == (2, 1, 0)
    assert rules_of(wear).widest_gap_min == 3


def test_a_wear_is_decided_in_the_group_it_is_in_alone(give, contributor, member_of_another_group):
    from server.groups.models import Group

    wear = give(contributor)
    meadow = Group.objects.get(slug="meadow")
    for step in (curating.approve, curating.exclude, curating.queue_again):
        with pytest.raises(NotFound):
            step(wear.id, group=meadow)
        with pytest.raises(NotFound):
            step(uuid4(), group=meadow)


def test_a_step_out_of_turn_is_a_conflict_and_changes_nothing(approve, contributor, group):
    wear = approve(contributor)
    for step in (curating.approve, curating.exclude):
        with pytest.raises(Conflict):
            step(wear.id, group=group)
    wear.refresh_from_db()
    assert wear.state == State.APPROVED


def test_a_decision_can_be_undone_until_the_cut_off(approve, contributor, group):
    wear = approve(contributor)
    curating.queue_again(wear.id, group=group)
    wear.refresh_from_db()
    assert wear.state == State.QUEUED
    late = approve(contributor, seed=2)
    cutoff.mark_waiting_slot(slot=2)
    with pytest.raises(Conflict, match="edition date has passed"):
        curating.queue_again(late.id, group=group)
    assert late.awaited.exists()


def test_newly_approved_wears_wait_from_the_present_slot_and_earlier_ones_from_theirs(approve, contributor):
    first = approve(contributor)
    assert cutoff.mark_waiting_slot(slot=3) == 1
    second = approve(contributor, seed=2)
    assert cutoff.mark_waiting_slot(slot=4) == 1
    assert cutoff.mark_waiting_slot(slot=4) == 0
    assert dict(Awaited.objects.filter(family="accuracy").values_list("wear", "since_slot")) == {
        first.id: 3,
        second.id: 4,
    }


@pytest.mark.parametrize("whose", ["group", "everyone"])
@pytest.mark.parametrize(
    "change",
    [{"fewest_pairs": 21}, {"first_day": "leave_out"}, {"accepted_sites": ["calf"]}, {"accepted_models": ["demo-b10"]}],
    ids=["more pairs", "fewer pairs chosen", "another site", "another sensor model"],
)
def test_a_change_of_the_rules_binds_what_is_curated_later_and_nothing_that_waits(
    give, approve, moderator, contributor, group, whose, change
):
    waits, queued = approve(contributor), give(contributor, seed=2)
    changed = group if whose == "group" else everyone()
    appoint_moderator(changed, account=moderator.account)
    change_protocol(changed, by=moderator.account, **change)
    cutoff.mark_waiting_slot(slot=1)
    assert (rules_of(waits).first_day, waits.summary.n_pairs) == ("keep", 20)
    assert [wear.meets_rules for wear in waiting_wears()] == [True]
    if any(rule.startswith("accepted") for rule in change):
        with pytest.raises(Conflict, match="do not take this"):
            curating.approve(queued.id, group=group)
    else:
        curating.approve(queued.id, group=group)
        cutoff.mark_waiting_slot(slot=2)
        later = {wear.wear_id: wear.meets_rules for wear in waiting_wears()}[queued.id]
        assert (later, rules_of(queued).first_day) == ("first_day" in change, change.get("first_day", "keep"))


def test_a_wear_whose_readings_are_gone_since_waits_on(approve, contributor):
    wear = approve(contributor)
    services.erase_due_pairs(today=wear.pairs.erase_on)
    cutoff.mark_waiting_slot(slot=1)
    assert [waiting.meets_rules for waiting in waiting_wears()] == [True]


def test_a_wear_given_to_a_room_waits_for_the_figures_of_everyone(approve, moderator, contributor, group):
    before = approve(contributor)
    change_protocol(group, by=moderator.account, room=True)
    after = approve(contributor, seed=2)
    cutoff.mark_waiting_slot(slot=1)
    scopes = {waiting.wear_id: waiting.scope for waiting in waiting_wears()}
    assert scopes == {before.id: str(group.id), after.id: "everyone"}


def test_a_wear_whose_readings_are_gone_is_not_approved(give, contributor, group):
    wear = give(contributor)
    services.erase_due_pairs(today=wear.pairs.erase_on)
    with pytest.raises(Conflict, match="Leave it out"):
        curating.approve(wear.id, group=group)
    curating.exclude(wear.id, group=group)


def test_readings_are_gone_at_the_latest_when_the_first_sums_with_them_end(approve, contributor):
    ends, later, waits = (approve(contributor, seed=seed) for seed in (1, 2, 3))
    cutoff.mark_waiting_slot(slot=1)
    cutoff.mark_admitted([ends.id], family="accuracy", end_bucket=24)
    cutoff.mark_admitted([later.id], family="accuracy", end_bucket=30)
    cutoff.mark_waiting_slot(slot=23)
    assert WearPairs.objects.count() == 3
    cutoff.mark_waiting_slot(slot=24)
    assert {row.wear_id for row in WearPairs.objects.all()} == {later.id, waits.id}


def test_what_waits_for_somebody_who_turned_the_pool_off_is_private_before_anything_is_counted(
    approve, contributor, moderator, new_member, group
):
    from server.groups.services import join_group

    willing = new_member()
    join_group(group, account=willing.account)
    withdrawn, stays = approve(contributor), approve(willing, seed=2)
    record_consent(contributor.account, scope="pool", given=False, text_version=1)
    assert cutoff.mark_waiting_slot(slot=1) == 1
    assert dict(Wear.objects.values_list("id", "state")) == {withdrawn.id: State.PRIVATE, stays.id: State.APPROVED}


def test_admission_keeps_the_shared_end_and_forgets_the_slot(approve, contributor):
    wear = approve(contributor)
    cutoff.mark_waiting_slot(slot=1)
    cutoff.mark_admitted([wear.id], family="accuracy", end_bucket=24)
    wear.refresh_from_db()
    assert (wear.state, wear.previous_state, wear.end_bucket) == (State.ADMITTED, State.APPROVED, 24)
    assert not wear.awaited.filter(family="accuracy").exists()


def test_a_wear_waits_in_every_family_it_says_something_about(approve, contributor):
    wear = approve(contributor, skin={"grade": 0}, ratings={"rated_by": "self", "comfort": 0})
    cutoff.mark_waiting_slot(slot=1)
    assert sorted(wear.awaited.values_list("family", flat=True)) == ["accuracy", "comfort", "skin", "survival"]


def test_what_is_counted_in_one_family_still_waits_in_another_and_the_last_end_is_told(approve, contributor):
    wear = approve(contributor, skin={"grade": 2})
    cutoff.mark_waiting_slot(slot=1)
    cutoff.mark_admitted([wear.id], family="survival", end_bucket=24)
    assert [waiting.wear_id for waiting in waiting_wears("skin")] == [wear.id]
    cutoff.mark_waiting_slot(slot=8)
    cutoff.mark_admitted([wear.id], family="skin", end_bucket=30)
    wear.refresh_from_db()
    assert (wear.state, wear.first_end_bucket, wear.end_bucket) == (State.ADMITTED, 24, 30)


@pytest.mark.parametrize("how", ["leaves the group", "turns the pool off"])
def test_no_more_is_counted_of_somebody_who_leaves(approve, contributor, group, how):
    from server.groups.services import leave_group

    wear = approve(contributor, skin={"grade": 2})
    cutoff.mark_waiting_slot(slot=1)
    cutoff.mark_admitted([wear.id], family="survival", end_bucket=24)
    if how == "leaves the group":
        leave_group(group, account=contributor.account)
    else:
        record_consent(contributor.account, scope="pool", given=False, text_version=1)
    cutoff.mark_waiting_slot(slot=2)
    wear.refresh_from_db()
    assert (wear.state, wear.awaited.count()) == (State.ADMITTED, 0)


def test_wears_without_pairs_are_asked_nothing_about_pairs(approve, moderator, contributor, group):
    approve(contributor, pairs=[])
    cutoff.mark_waiting_slot(slot=1)
    assert [waiting.meets_rules for waiting in waiting_wears("survival")] == [True]
    assert [waiting.meets_rules for waiting in waiting_wears("accuracy")] == [False]


def test_what_does_not_wait_is_not_admitted_and_then_nothing_is(approve, give, contributor):
    waits, queued = approve(contributor), give(contributor, seed=2)
    for others in ([queued.id], [uuid4()]):
        with pytest.raises(Conflict):
            cutoff.mark_admitted([waits.id, *others], family="accuracy", end_bucket=24)
    assert dict(Wear.objects.values_list("id", "state")) == {waits.id: State.APPROVED, queued.id: State.QUEUED}


def test_owners_see_states_as_of_the_last_cut_off(approve, contributor):
    wear = approve(contributor)
    wear.refresh_from_db()
    assert wear.shown_state == State.QUEUED
    cutoff.mark_waiting_slot(slot=1)
    cutoff.mark_admitted([wear.id], family="accuracy", end_bucket=24)
    cutoff.show_states()
    wear.refresh_from_db()
    assert wear.shown_state == State.ADMITTED


def test_calibrating_pairs_are_never_counted(approve, contributor):
    wear = approve(contributor, calibrated=True, pairs=[{**pair, "prompt": "calibration"} for pair in pairs(12)])
    assert wear.summary.n_pairs == 0
