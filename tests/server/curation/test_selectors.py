import pytest

from server.core.errors import Forbidden, NotFound
from server.curation import selectors
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


def test_the_record_is_read_from_its_first_entry_by_moderators_alone(give, contributor, group, moderator):
    for seed in range(3):
        exclude_wear(group, give(contributor, seed=seed).id, code="copied", by=moderator.account)
    assert [entry.number for entry in selectors.record_of(group, account=moderator.account)] == [1, 2, 3]
    with pytest.raises(Forbidden):
        selectors.record_of(group, account=contributor.account)
