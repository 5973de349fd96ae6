"""A group's rules at a cut-off: what they let count, when, and that a change of them binds later curation only."""

from server.editions.models import SealedRecord
from server.groups.selectors import everyone
from server.groups.services import appoint_moderator, change_protocol
from server.wears.models import Awaited
from tests.server.editions.conftest import THIGH


def still_wait(wears):
    return Awaited.objects.filter(family="accuracy", wear__in=wears).count()


def test_a_wear_must_meet_the_rules_of_every_pool_that_would_count_it(pool):
    appoint_moderator(everyone(), account=pool.moderator.account)
    for slot, changed in enumerate((everyone(), pool.group), start=1):
        change_protocol(changed, by=pool.moderator.account, fewest_pairs=15)
        short = [pool.wear(member, n_pairs=12) for member in pool.members(5)]
        pool.cut_off(slot)
        assert still_wait(short) == 5
        change_protocol(changed, by=pool.moderator.account, fewest_pairs=8)


def test_a_change_of_rules_moves_nothing_that_was_curated_before(pool):
    """Otherwise a moderator could choose with each cut-off whose wears are counted together."""
    wears = [pool.wear(member, n_pairs=12) for member in pool.members(5)]
    change_protocol(pool.group, by=pool.moderator.account, fewest_pairs=15, accepted_sites=["calf"])
    pool.cut_off(1)
    assert still_wait(wears) == 0


def test_a_k_that_was_raised_holds_for_whatever_is_counted_later(pool):
    pool.group = pool.found("cellar", feeds_everyone=False)
    first = pool.wears(pool.members(5), THIGH)
    pool.cut_off(1)
    second = pool.wears(pool.members(5), THIGH)
    change_protocol(pool.group, by=pool.moderator.account, k=6)
    pool.cut_off(2)
    assert (still_wait(first), still_wait(second)) == (0, 5)
    pool.wears(pool.members(1), THIGH)
    pool.cut_off(3)
    assert still_wait(second) == 0
    assert sorted(SealedRecord.objects.filter(kind="block", family="survival").values_list("k", flat=True)) == [5, 6]


def test_a_group_of_fewer_editions_counts_at_its_own_dates_alone(pool):
    change_protocol(pool.group, by=pool.moderator.account, months_between_editions=3)
    wears = pool.wears(pool.members(5), THIGH)
    for slot, waiting in ((1, 5), (2, 5), (3, 0)):
        pool.cut_off(slot)
        assert still_wait(wears) == waiting
    assert set(SealedRecord.objects.values_list("end_bucket", flat=True)) == {24}


def test_a_group_waits_as_long_as_its_rules_say_before_the_sensor_model_is_given_up(pool):
    change_protocol(
        pool.group, by=pool.moderator.account, editions_before_model_given_up=3, editions_before_site_given_up=5
    )
    members = pool.members(6)
    wears = [
        pool.wear(member, sensor_model="demo-a14" if index % 2 else "demo-b10") for index, member in enumerate(members)
    ]
    for slot, waiting in ((1, 6), (2, 6), (3, 6), (4, 0)):
        pool.cut_off(slot)
        assert still_wait(wears) == waiting


def test_what_is_given_to_a_room_is_counted_with_everyones_and_makes_no_rows_of_its_own(pool):
    change_protocol(pool.group, by=pool.moderator.account, room=True)
    wears = pool.wears(pool.members(6), THIGH)
    pool.cut_off(1)
    assert still_wait(wears) == 0
    assert set(SealedRecord.objects.values_list("scope", flat=True)) == {"everyone"}
