import pytest
from django.db import connection

from server.core.errors import NotFound
from server.curation import selectors
from server.curation.models import Decision
from server.curation.services import approve_wear, exclude_wear

pytestmark = pytest.mark.django_db


def test_the_queue_holds_what_waits_for_a_decision_without_the_moderators_own(give, contributor, group, moderator):
    given = {give(contributor, seed=seed).id for seed in range(4)}
    give(moderator, seed=9)
    queue = selectors.queue_for_moderator(group, account=moderator.account)
    assert {wear.id for wear in queue} == given
    approve_wear(group, queue[0].id, by=moderator.account)
    assert len(selectors.queue_for_moderator(group, account=moderator.account)) == 3


def test_the_order_of_the_queue_tells_nothing_about_arrival(give, contributor, group, moderator):
    arrived = [give(contributor, seed=seed).id for seed in range(8)]
    queue = [wear.id for wear in selectors.queue_for_moderator(group, account=moderator.account)]
    assert queue not in (arrived, arrived[::-1])
    assert queue == [wear.id for wear in selectors.queue_for_moderator(group, account=moderator.account)]


def test_a_moderator_sees_a_wear_without_its_owner_and_without_minutes(give, contributor, group, moderator):
    wear = give(contributor)
    seen = selectors.wear_for_moderator(group, wear.id, account=moderator.account)
    assert seen.n_pairs == sum(seen.n_pairs_by_day.values()) == 20
    assert seen.worn_days == 20_000 // 1440
    told = repr(seen)
    assert str(contributor.account.id) not in told
    assert contributor.sign_in_name not in told
    assert "left" not in told


def test_a_wear_of_another_group_is_not_in_this_one(give, contributor, group, member_of_another_group):
    wear = give(contributor)
    meadow = member_of_another_group.account.memberships.get().group
    with pytest.raises(NotFound):
        selectors.wear_for_moderator(meadow, wear.id, account=member_of_another_group.account)


def test_the_record_is_a_chain_that_shows_a_later_change(give, contributor, group, moderator):
    for seed in range(3):
        exclude_wear(group, give(contributor, seed=seed).id, code="copied", by=moderator.account)
    assert [decision.number for decision in selectors.record_of(group, account=moderator.account)] == [1, 2, 3]
    assert selectors.chain_is_whole(group)
    with connection.cursor() as cursor:
        cursor.execute(f"UPDATE {Decision._meta.db_table} SET code = 'stuck' WHERE number = 2")
    assert not selectors.chain_is_whole(group)


def test_a_decision_left_out_of_the_record_is_missed(give, contributor, group, moderator):
    for seed in range(2):
        approve_wear(group, give(contributor, seed=seed).id, by=moderator.account)
    with connection.cursor() as cursor:
        cursor.execute(f"DELETE FROM {Decision._meta.db_table} WHERE number = 1")
    assert not selectors.chain_is_whole(group)


def test_one_moderator_is_one_mark_and_two_are_two(moderator, contributor):
    assert selectors.moderator_mark(moderator.account) == selectors.moderator_mark(moderator.account)
    assert selectors.moderator_mark(moderator.account) != selectors.moderator_mark(contributor.account)
