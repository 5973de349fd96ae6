"""Orders drawn by lot: complete rounds, balanced sides, rested spots, and every order equally likely."""

from collections import Counter
from dataclasses import astuple
from itertools import pairwise, permutations

import numpy as np
import pytest

from pooling.planning import PlanRequest, Resting, Spot
from pooling.planning.order import drawn_order
from pooling.planning.request import REST_DAYS
from tests.pooling.planning.requests import ARM, CALF, THIGH, asked


def orders(request, n=200, days=14):
    return [drawn_order(request, np.random.default_rng(seed), rated_life_days=days) for seed in range(n)]


@pytest.mark.parametrize(("sites", "wears"), [((ARM, THIGH), 3), ((ARM, THIGH, CALF), 2), ((ARM, THIGH, CALF), 4)])
def test_every_round_holds_each_site_once_and_sides_balance(sites, wears):
    for order in orders(asked(*sites, wears_per_site=wears), 50):
        for start in range(0, len(order), len(sites)):
            assert {wear.site for wear in order[start : start + len(sites)]} == set(sites)
        for site in sites:
            sides = Counter(wear.side for wear in order if wear.site == site)
            assert abs(sides["left"] - sides["right"]) <= 1
        begins = Counter(wear.side for wear in order[: len(sites)])
        assert abs(begins["left"] - begins["right"]) <= 1


def test_all_orders_of_a_round_are_equally_likely():
    """Chi-square of 600 first rounds on 6 orders; 20.5 is the 99.9 % point at 5 degrees of freedom (handbook)."""
    seen = Counter(
        tuple(wear.site for wear in order) for order in orders(asked(ARM, THIGH, CALF, wears_per_site=1), 600)
    )
    assert set(seen) == set(permutations((ARM, THIGH, CALF)))
    assert sum((count - 100) ** 2 / 100 for count in seen.values()) < 20.5


def test_which_side_a_site_begins_on_is_a_coin():
    seen = Counter(order[0].side for order in orders(asked(), 400))
    assert abs(seen["left"] - 200) < 4 * 10  # four standard deviations of 400 coins


def test_an_alternating_order_keeps_its_turn():
    for order in orders(asked(wears_per_site=3, design="alternating"), 30):
        sites = [wear.site for wear in order]
        assert sites in ([ARM, THIGH] * 3, [THIGH, ARM] * 3)


@pytest.mark.parametrize("days", [5, 7, 10, 14])
@pytest.mark.parametrize("design", ["blocked", "alternating"])
def test_every_spot_rests_before_it_is_worn_again(days, design):
    for order in orders(asked(wears_per_site=4, design=design), 40, days):
        for spot in {(wear.site, wear.side) for wear in order}:
            begun = [wear.day for wear in order if (wear.site, wear.side) == spot]
            assert all(late - (early + days) >= REST_DAYS for early, late in pairwise(begun))
        assert all(late.day >= early.day + days for early, late in pairwise(order))


def test_two_sites_worn_for_ten_days_need_no_pause():
    assert all(order[-1].day == 30 for order in orders(asked(), 40, days=10))


def test_a_spot_worn_lately_waits_its_days():
    request = asked(ARM, THIGH, wears_per_site=1, resting=(Resting(ARM, "left", 1), Resting(ARM, "right", 3)))
    for order in orders(request, 40, days=10):
        arm = next(wear for wear in order if wear.site == ARM)
        assert arm.day >= (20 if arm.side == "left" else 18)


def test_a_site_of_one_side_is_worn_on_that_side():
    request = PlanRequest(spots=(Spot(ARM, ("left",)), Spot(THIGH)), sensor_model="m", wears_per_site=2)
    for order in orders(request, 10):
        assert {wear.side for wear in order if wear.site == ARM} == {"left"}


def test_the_same_random_numbers_give_the_same_order():
    one, other = (drawn_order(asked(), np.random.default_rng(7), rated_life_days=10) for _ in range(2))
    assert [astuple(wear) for wear in one] == [astuple(wear) for wear in other]
