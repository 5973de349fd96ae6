from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from pooling.simulate import GroupPlan, simulate_community
from server.accounts.models import Account
from server.accounts.selectors import has_consented
from server.curation.selectors import queue_for_moderator
from server.demo.community import approve_everything, invent, left_to_decide, load_people, load_wears
from server.demo.scenario import scenario
from server.wears.models import Wear
from tests.server.releasing import release_all


def _small():
    story = scenario()
    groups = tuple(replace(group, people=people) for group, people in zip(story.groups, (4, 3, 2), strict=True))
    return replace(story, groups=groups)


@pytest.fixture
def loaded(db):
    story = _small()
    plans = [GroupPlan(group.slug, group.people) for group in story.groups]
    community = simulate_community(np.random.default_rng(1), groups=plans)
    said = []
    return load_people(story, community, said.append), community, said


def test_the_same_community_is_invented_every_time():
    assert invent(_small()) == invent(_small())


def test_everybody_has_agreed_to_what_is_done_with_their_wears(loaded):
    people, _, said = loaded
    assert said == ["9 invented people in 3 groups"]
    assert all(has_consented(account, "pool") for account in people.accounts.values())
    assert set(people.sign_ins) == {
        "moderator of harbour",
        "moderator of orchard",
        "moderator of lantern",
        "moderator of everyone",
        "a member of harbour",
    }


def test_nobody_but_the_printed_ones_can_sign_in(loaded):
    people, _, _ = loaded
    able = {account.sign_in_name for account in Account.objects.all() if account.has_usable_password()}
    assert able == set(people.sign_ins.values())


def test_wears_come_in_through_the_services_and_are_approved_by_their_moderators(loaded):
    people, community, _ = loaded
    n_wears = load_wears(people, [wear for wear in community.wears if wear.slot == 1])
    assert Wear.objects.filter(state="queued").count() == n_wears > 0
    assert approve_everything(people) == 0  # too few people for a batch
    release_all()
    assert approve_everything(people) == n_wears
    assert Wear.objects.filter(state="approved").count() == n_wears


def test_whoever_wears_by_lot_registered_a_fair_test_long_before(db, clock):
    story = _small()
    clock.set(date(2031, 1, 5))
    plans = [GroupPlan(group.slug, group.people) for group in story.groups]
    community = simulate_community(np.random.default_rng(1), groups=plans)
    people = load_people(story, community, lambda _: None)
    clock.set(date(2031, 3, 20))
    n_by_lot = sum(wear.record["assignment"] == "randomised" for wear in community.wears)
    load_wears(people, community.wears)
    assert Wear.objects.filter(header__assignment="randomised").count() == n_by_lot > 0
    assert not [wear for wear in Wear.objects.all() if "plan_not_registered" in wear.findings]


def test_whoever_moderates_finds_wears_that_are_fine_and_one_that_is_not(db):
    story = _small()
    community = simulate_community(np.random.default_rng(1), groups=[GroupPlan("harbour", 9)])
    people = load_people(replace(story, groups=story.groups[:1]), community, lambda _: None)
    wears = left_to_decide(story, community, "harbour")
    assert people.member_sign_in not in {people.accounts[wear.person].sign_in_name for wear in wears}
    assert load_wears(people, wears) == 8
    release_all()
    first, *others = queue_for_moderator(people.groups["harbour"], account=people.curators["harbour"])
    assert first.remarks == ("stuck_sensor",)
    assert sum(line.is_clean for line in others) >= 4
