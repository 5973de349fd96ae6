"""Batches: of k accounts or more, once a week, and nothing of when or in whose company a wear came."""

from datetime import timedelta

import pytest

from server.curation.models import ReleaseDay
from server.curation.queues import to_decide
from server.curation.release import release_batches
from server.groups.selectors import everyone
from server.groups.services import change_protocol, join_group
from server.wears.copies import look_for_copies
from server.wears.models import Wear
from server.wears.services import give_to_group, take_back
from tests.conftest import START

pytestmark = pytest.mark.django_db
MONDAY = START  # 10 February 2031


@pytest.fixture
def crowd(new_member, group):
    members = [new_member() for _ in range(6)]
    for member in members:
        join_group(group, account=member.account)
    return members


@pytest.fixture
def come(give):
    """Wears that have come in, of which a worker has seen whether they are copies."""

    def accept(members, *, seed=1, **changes):
        wears = [give(member, released=False, seed=seed + at, **changes) for at, member in enumerate(members)]
        look_for_copies()
        return {wear.id for wear in wears}

    return accept


def seen(group):
    return {wear.id for wear in to_decide(group)}


def test_a_batch_is_of_k_accounts_or_more(come, crowd, group):
    assert MONDAY.weekday() == 0
    few = come(crowd[:4])
    few |= come(crowd[:4], seed=50)  # more wears, no more people
    assert (release_batches(MONDAY), seen(group)) == (0, set())
    fifth = come(crowd[4:5], seed=90)
    assert release_batches(MONDAY + timedelta(days=7)) == 9
    assert seen(group) == few | fifth


def test_a_group_that_asks_for_more_people_waits_for_more(come, crowd, group, moderator, stranger):
    from server.groups.services import appoint_moderator

    appoint_moderator(everyone(), account=stranger.account)
    change_protocol(everyone(), by=stranger.account, k=6)
    change_protocol(group, by=moderator.account, k=6)
    come(crowd[:5])
    assert release_batches(MONDAY) == 0
    come(crowd[5:], seed=9)
    assert release_batches(MONDAY + timedelta(days=7)) == 6


def test_nothing_is_released_when_the_last_one_comes_but_on_the_day(come, crowd, group):
    assert release_batches(MONDAY) == 0
    come(crowd[:5])
    for day in range(7):
        assert release_batches(MONDAY + timedelta(days=day)) == 0
    assert seen(group) == set()
    # Nobody was at work on the Monday: the first day after it stands in.
    assert release_batches(MONDAY + timedelta(days=9)) == 5
    assert ReleaseDay.objects.get().on == MONDAY + timedelta(days=7)


def test_which_wears_a_batch_holds_does_not_depend_on_their_order(come, crowd, group):
    given = come(crowd[:5])
    release_batches(MONDAY)
    assert seen(group) == given
    later = come(crowd[:5][::-1], seed=30)
    release_batches(MONDAY + timedelta(days=7))
    assert seen(group) == given | later


def test_a_wear_that_no_worker_has_looked_at_waits(come, give, crowd, group):
    come(crowd[:4])
    give(crowd[4], released=False, seed=77)
    assert release_batches(MONDAY) == 0
    come(crowd[5:6], seed=88)
    assert release_batches(MONDAY + timedelta(days=7)) == 6


def test_given_again_a_wear_waits_for_a_batch_again(come, crowd, group):
    (wear, *_) = come(crowd[:5])
    release_batches(MONDAY)
    owner = next(member for member in crowd if member.account.holdings.filter(pk=wear).exists())
    take_back(wear, account=owner.account)
    give_to_group(wear, account=owner.account, group=group)
    assert not Wear.objects.get(pk=wear).released
    assert wear not in seen(group)


def test_small_groups_come_together_in_the_queue_of_everyone(come, crowd, group, moderator):
    change_protocol(group, by=moderator.account, curated_by_everyone=True)
    given = come(crowd[:3]) | come(crowd[3:5], seed=20, to=everyone())
    assert release_batches(MONDAY) == 5
    assert (seen(everyone()), seen(group)) == (given, set())
