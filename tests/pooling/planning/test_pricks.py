"""Fingersticks of one wear: as many as asked, never over the cap, never at night, first day covered."""

from collections import Counter
from itertools import pairwise

import numpy as np
import pytest

from pooling.planning.pricks import MINUTES_A_DAY, drawn_pricks
from tests.pooling.planning.requests import asked


@pytest.mark.parametrize(
    ("n", "days", "changes"),
    [
        (8, 14, {}),
        (33, 10, {}),
        (50, 10, {"daily_cap": 5}),
        (70, 7, {"daily_cap": 10, "waking_min": 480, "warm_up_min": 0}),
        (20, 10, {"first_day_pairs": 0}),
        (20, 10, {"insert_after_waking_min": 600, "waking_min": 700}),
    ],
)
def test_counts_cap_and_waking_hours_hold(n, days, changes):
    request = asked(**changes)
    for seed in range(20):
        pricks = drawn_pricks(request, n, np.random.default_rng(seed), rated_life_days=days)
        assert len(pricks) == n
        assert all(0 <= prick.after_waking_min < request.waking_min for prick in pricks)
        per_day = Counter(prick.day for prick in pricks)
        assert max(per_day.values()) <= request.daily_cap
        assert set(per_day) <= set(range(days))
        assert all(prick.elapsed_min >= request.warm_up_min or prick.day for prick in pricks)
        assert all(
            prick.elapsed_min + request.insert_after_waking_min == prick.day * MINUTES_A_DAY + prick.after_waking_min
            for prick in pricks
        )


def test_the_first_day_gets_its_own_and_the_others_an_even_share():
    pricks = drawn_pricks(asked(first_day_pairs=4), 33, np.random.default_rng(2), rated_life_days=14)
    per_day = Counter(prick.day for prick in pricks)
    assert per_day[0] == 4
    others = [per_day[day] for day in range(1, 14)]
    assert max(others) - min(others) <= 1


def test_fingersticks_of_a_day_lie_apart():
    """Middle four fifths of equal parts: a fifth of a part lies between any two."""
    request = asked(daily_cap=4)
    pricks = drawn_pricks(request, 40, np.random.default_rng(3), rated_life_days=10)
    for early, late in pairwise(pricks):
        if early.day == late.day > 0:
            assert late.after_waking_min - early.after_waking_min >= 0.2 * request.waking_min / 4 - 5


def test_over_many_wears_every_waking_hour_is_tested():
    hours = Counter(
        prick.after_waking_min // 60
        for seed in range(40)
        for prick in drawn_pricks(asked(), 33, np.random.default_rng(seed), rated_life_days=10)
    )
    assert set(hours) == set(range(14))
