"""The steps that curation and the cut-off take: summaries under the rules in force, slots, admission, what is shown."""

from uuid import uuid4

import pytest

from pooling import summary as summaries
from server.accounts.services import record_consent
from server.core.errors import Conflict, NotFound
from server.groups.selectors import everyone
from server.groups.services import appoint_moderator, change_protocol
from server.wears import services
from server.wears.models import Wear, WearPairs
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
    version = services.approve(wear.id, group=group)
    wear.refresh_from_db()
    wear.summary.refresh_from_db()
    assert (version, wear.state, wear.shown_state) == (2, State.APPROVED, State.QUEUED)
    assert (wear.summary.protocol_version, wear.summary.everyone_version, wear.summary.n_pairs) == (2, 1, 0)
    assert rules_of(wear).widest_gap_min == 3


def test_a_wear_is_decided_in_the_group_it_is_in_alone(give, contributor, member_of_another_group):
    from server.groups.models import Group

    wear = give(contributor)
    meadow = Group.objects.get(slug="meadow")
    for step in (services.approve, services.exclude, services.queue_again):
        with pytest.raises(NotFound):
            step(wear.id, group=meadow)
        with pytest.raises(NotFound):
            step(uuid4(), group=meadow)


def test_a_step_out_of_turn_is_a_conflict_and_changes_nothing(approve, contributor, group):
    wear = approve(contributor)
    for step in (services.approve, services.exclude):
        with pytest.raises(Conflict):
            step(wear.id, group=group)
    wear.refresh_from_db()
    assert wear.state == State.APPROVED


def test_a_decision_can_be_undone_until_the_cut_off(approve, contributor, group):
    wear = approve(contributor)
    services.mark_waiting_slot(slot=2)
    services.queue_again(wear.id, group=group)
    wear.refresh_from_db()
    assert (wear.state, wear.slot_since) == (State.QUEUED, None)


def test_newly_approved_wears_wait_from_the_present_slot_and_earlier_ones_from_theirs(approve, contributor):
    first = approve(contributor)
    assert services.mark_waiting_slot(slot=3) == 1
    second = approve(contributor, seed=2)
    assert services.mark_waiting_slot(slot=4) == 1
    assert services.mark_waiting_slot(slot=4) == 0
    assert dict(Wear.objects.values_list("id", "slot_since")) == {first.id: 3, second.id: 4}


@pytest.mark.parametrize("whose", ["group", "everyone"])
def test_a_cut_off_summarises_again_what_was_made_under_older_rules(approve, moderator, contributor, group, whose):
    wear = approve(contributor)
    changed = group if whose == "group" else everyone()
    appoint_moderator(changed, account=moderator.account)
    change_protocol(changed, by=moderator.account, first_day="leave_out")
    services.mark_waiting_slot(slot=1)
    assert rules_of(wear).first_day == "leave_out"
    assert wear.summary.n_pairs < 20


@pytest.mark.parametrize(
    ("change", "counts"),
    [({"fewest_pairs": 20}, True), ({"fewest_pairs": 21}, False), ({"first_day": "leave_out"}, False)],
    ids=[
        "enough pairs under the new rules",
        "too few under the new rules",
        "which pairs count nobody can say any more",
    ],
)
def test_a_wear_whose_readings_are_gone_counts_where_the_new_rules_choose_the_same_pairs(
    approve, moderator, contributor, group, change, counts
):
    wear = approve(contributor)
    services.erase_due_pairs(today=wear.pairs.erase_on)
    change_protocol(group, by=moderator.account, **change)
    services.mark_waiting_slot(slot=1)
    assert (rules_of(wear).first_day, wear.summary.n_pairs) == ("keep", 20)
    assert [waiting.meets_group for waiting in waiting_wears()] == [counts]


def test_a_wear_whose_readings_are_gone_is_not_approved(give, contributor, group):
    wear = give(contributor)
    services.erase_due_pairs(today=wear.pairs.erase_on)
    with pytest.raises(Conflict, match="Leave it out"):
        services.approve(wear.id, group=group)
    services.exclude(wear.id, group=group)


def test_readings_are_gone_at_the_latest_when_the_first_sums_with_them_end(approve, contributor):
    ends, later, waits = (approve(contributor, seed=seed) for seed in (1, 2, 3))
    services.mark_waiting_slot(slot=1)
    services.mark_admitted([ends.id], end_bucket=24)
    services.mark_admitted([later.id], end_bucket=30)
    services.mark_waiting_slot(slot=23)
    assert WearPairs.objects.count() == 3
    services.mark_waiting_slot(slot=24)
    assert {row.wear_id for row in WearPairs.objects.all()} == {later.id, waits.id}


def test_what_waits_for_somebody_who_turned_the_pool_off_is_private_before_anything_is_counted(
    approve, contributor, moderator, new_member, group
):
    from server.groups.services import join_group

    willing = new_member()
    join_group(group, account=willing.account)
    withdrawn, stays = approve(contributor), approve(willing, seed=2)
    record_consent(contributor.account, scope="pool", given=False, text_version=1)
    assert services.mark_waiting_slot(slot=1) == 1
    assert dict(Wear.objects.values_list("id", "state")) == {withdrawn.id: State.PRIVATE, stays.id: State.APPROVED}


def test_admission_keeps_the_shared_end_and_forgets_the_slot(approve, contributor):
    wear = approve(contributor)
    services.mark_waiting_slot(slot=1)
    services.mark_admitted([wear.id], end_bucket=24)
    wear.refresh_from_db()
    assert (wear.state, wear.previous_state, wear.end_bucket, wear.slot_since) == (
        State.ADMITTED,
        State.APPROVED,
        24,
        None,
    )


def test_what_does_not_wait_is_not_admitted_and_then_nothing_is(approve, give, contributor):
    waits, queued = approve(contributor), give(contributor, seed=2)
    for others in ([queued.id], [uuid4()]):
        with pytest.raises(Conflict):
            services.mark_admitted([waits.id, *others], end_bucket=24)
    assert dict(Wear.objects.values_list("id", "state")) == {waits.id: State.APPROVED, queued.id: State.QUEUED}


def test_owners_see_states_as_of_the_last_cut_off(approve, contributor):
    wear = approve(contributor)
    wear.refresh_from_db()
    assert wear.shown_state == State.QUEUED
    services.mark_waiting_slot(slot=1)
    services.mark_admitted([wear.id], end_bucket=24)
    services.show_states()
    wear.refresh_from_db()
    assert wear.shown_state == State.ADMITTED


def test_calibrating_pairs_are_never_counted(approve, contributor):
    wear = approve(contributor, calibrated=True, pairs=[{**pair, "prompt": "calibration"} for pair in pairs(12)])
    assert wear.summary.n_pairs == 0
