"""Joint rounds: who opens and joins them, orders that are even and private, and what an upload may claim of them."""

from datetime import date
from types import SimpleNamespace

import pytest

from server.core import jobs
from server.core.errors import Conflict, Forbidden, Invalid, NotFound
from server.groups import rounds
from server.groups.models import Group, JointRound, RoundPlace
from server.groups.selectors import everyone
from server.groups.services import appoint_moderator, change_protocol, join_group, leave_group

pytestmark = pytest.mark.django_db

ROUND = {"sensor_model": "demo-a14", "sites": ["thigh.front", "calf"], "start_month": date(2031, 3, 9)}


@pytest.fixture
def opened(group, moderator, catalogue, clock):
    return rounds.open_round(group, by=moderator.account, **ROUND)


@pytest.fixture
def joiner(group, opened, new_member):
    def join():
        member = new_member()
        join_group(group, account=member.account)
        return member, rounds.join_round(group, opened.id, account=member.account)

    return join


def test_a_round_is_opened_for_a_month_and_lists_its_sites_in_no_order(opened):
    assert (opened.sites, opened.start_month) == (("calf", "thigh.front"), date(2031, 3, 1))
    assert (opened.can_be_joined, opened.order, opened.plan) == (True, None, None)


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"sensor_model": "demo-z99"}, "#/sensor_model"),
        ({"sensor_model": "demo-closed"}, "#/sensor_model"),
        ({"sensor_model": "demo-b10"}, "#/sensor_model"),  # the rules do not take it
        ({"sites": ["calf", "calf"]}, "#/sites"),
        ({"sites": ["calf"]}, "#/sites"),
        ({"sites": ["calf", "nose"]}, "#/sites"),
        ({"sites": ["calf", "chest"]}, "#/sites"),  # the rules do not take it
        ({"start_month": date(2031, 1, 31)}, "#/start_month"),
        ({"start_month": date(2031, 9, 1)}, "#/start_month"),
    ],
)
def test_a_round_that_no_wear_could_follow_is_not_opened(group, moderator, catalogue, clock, change, pointer):
    rules = {"accepted_models": ["demo-a14"], "accepted_sites": ["calf", "thigh.front"]}
    change_protocol(group, by=moderator.account, **rules)
    with pytest.raises(Invalid) as refusal:
        rounds.open_round(group, by=moderator.account, **ROUND | change)
    assert [fault["pointer"] for fault in refusal.value.faults] == [pointer]
    assert not JointRound.objects.exists()


def test_the_rules_say_whether_there_are_rounds_and_there_are_not_many_at_once(group, moderator, opened, catalogue):
    for _ in range(rounds.MOST_OPEN - 1):
        rounds.open_round(group, by=moderator.account, **ROUND)
    with pytest.raises(Conflict, match="Wait"):
        rounds.open_round(group, by=moderator.account, **ROUND)
    change_protocol(group, by=moderator.account, joint_rounds=False)
    with pytest.raises(Conflict, match="do not have joint rounds"):
        rounds.open_round(group, by=moderator.account, **ROUND)
    appoint_moderator(everyone(), account=moderator.account)
    with pytest.raises(Conflict):
        rounds.open_round(everyone(), by=moderator.account, **ROUND)


def test_moderators_open_and_members_see(group, contributor, stranger, opened):
    with pytest.raises(Forbidden):
        rounds.open_round(group, by=contributor.account, **ROUND)
    assert rounds.rounds_for_member(group, account=contributor.account) == [opened]
    for ask in (
        lambda: rounds.rounds_for_member(group, account=stranger.account),
        lambda: rounds.join_round(group, opened.id, account=stranger.account),
    ):
        with pytest.raises(NotFound):
            ask()


def test_orders_stay_even_at_every_moment(joiner):
    drawn = [joiner()[1].order for _ in range(9)]
    assert set(drawn) == {("calf", "thigh.front"), ("thigh.front", "calf")}
    for n in range(1, 10):
        n_first = sum(order[0] == "calf" for order in drawn[:n])
        assert abs(n - 2 * n_first) <= 1


def test_the_coin_is_keyed_and_falls_both_ways(group, moderator, catalogue, clock, contributor):
    fell = set()
    for _ in range(24):
        opened = rounds.open_round(group, by=moderator.account, **ROUND)
        fell.add(rounds.join_round(group, opened.id, account=contributor.account).order)
        JointRound.objects.all().delete()
    assert len(fell) == 2  # wrong once in 2 ** 23 runs


def test_the_order_is_told_to_the_member_alone_and_is_the_same_again(group, opened, joiner, moderator):
    member, mine = joiner()
    other, others = joiner()
    assert rounds.join_round(group, opened.id, account=member.account) == mine
    assert rounds.rounds_for_member(group, account=member.account) == [mine]
    assert mine.plan != others.plan
    assert rounds.rounds_for_member(group, account=moderator.account) == [opened]
    assert [place["order"] for place in rounds.places_of(other.account)] == [others.order]
    assert mine.plan not in str(rounds.places_of(other.account))


def test_a_round_that_has_begun_is_not_joined_and_one_of_another_group_is_none(
    group, opened, joiner, contributor, member_of_another_group, clock
):
    member, mine = joiner()
    meadow = Group.objects.get(slug="meadow")
    with pytest.raises(NotFound):
        rounds.join_round(meadow, opened.id, account=member_of_another_group.account)
    clock.set(date(2031, 3, 31))
    rounds.join_round(group, opened.id, account=contributor.account)
    RoundPlace.objects.filter(membership__account=contributor.account).delete()
    clock.set(date(2031, 4, 1))
    with pytest.raises(NotFound, match="begun without you"):
        rounds.join_round(group, opened.id, account=contributor.account)
    assert rounds.join_round(group, opened.id, account=member.account).order == mine.order


def test_leaving_gives_the_place_up_and_a_year_later_the_round_is_forgotten(group, opened, joiner):
    member, _ = joiner()
    joiner()
    leave_group(group, account=member.account)
    assert RoundPlace.objects.count() == 1
    jobs.sweepers()["rounds dropped"](date(2032, 3, 31))
    assert JointRound.objects.count() == 1
    jobs.sweepers()["rounds dropped"](date(2032, 4, 1))
    assert not JointRound.objects.exists()
    assert not RoundPlace.objects.exists()


@pytest.mark.parametrize(
    ("changes", "pointers"),
    [
        ({}, []),
        ({"site": "thigh.front"}, []),
        ({"site": "chest"}, ["#/site"]),
        ({"assignment": "chosen"}, ["#/assignment"]),
        ({"sensor_model": "demo-b10", "site": "chest"}, ["#/sensor_model", "#/site"]),
    ],
)
def test_a_wear_that_names_the_plan_keeps_to_the_round(joiner, changes, pointers):
    member, mine = joiner()
    wear = {"assignment": "randomised", "sensor_model": "demo-a14", "site": "calf", "plan": mine.plan, **changes}
    if not pointers:
        rounds.require_kept(SimpleNamespace(**wear), account=member.account)
        return
    with pytest.raises(Invalid) as refusal:
        rounds.require_kept(SimpleNamespace(**wear), account=member.account)
    assert [fault["pointer"] for fault in refusal.value.faults] == pointers


def test_of_somebody_elses_plan_an_upload_tells_nothing(joiner, contributor):
    _, theirs = joiner()
    for plan in (theirs.plan, "an-opaque-token", None):
        wear = SimpleNamespace(assignment="chosen", sensor_model="demo-b10", site="chest", plan=plan)
        rounds.require_kept(wear, account=contributor.account)
        assert not rounds.is_place(plan, account=contributor.account)


def test_the_own_plan_is_known_again(joiner):
    member, mine = joiner()
    assert rounds.is_place(mine.plan, account=member.account)
