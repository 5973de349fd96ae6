"""The odds of rows: against the classical occupancy distribution, and against what more people or sites must do."""

from dataclasses import replace
from math import comb, sqrt

import numpy as np
import pytest

from pooling.errors import InvalidInput
from pooling.odds import ASSUMED, MOST, Typed, odds_of_rows

VILLAGE = Typed(members=14, wears_a_month=6, sites=6, months=6)


def odds(typed, *, seed=1, n_runs=60):
    return odds_of_rows(typed, np.random.default_rng(seed), n_runs=n_runs)


def at_least_distinct(k, n_people, n_draws):
    """The chance that so many draws with replacement show at least k of n people.

    The number of empty cells among n after r balls: Feller, An Introduction to Probability Theory and Its
    Applications, volume 1, 3rd edition, section IV.2, formula (2.3) (cited from memory), here as its complement.
    """

    def exactly(n_seen):
        empty = n_people - n_seen
        return comb(n_people, empty) * sum(
            (-1) ** j * comb(n_seen, j) * (1 - (empty + j) / n_people) ** n_draws for j in range(n_seen + 1)
        )

    return sum(exactly(n_seen) for n_seen in range(k, n_people + 1))


@pytest.mark.parametrize(("members", "k", "months"), [(6, 5, 3), (8, 5, 2), (5, 5, 4), (12, 8, 4)])
def test_one_site_is_the_occupancy_problem(members, k, months):
    """At one site a row shows as soon as k of the members are among those who wore at all."""
    typed = Typed(members=members, wears_a_month=3, sites=1, sites_a_member=1, k=k, months=months)
    expected = at_least_distinct(k, members, 3 * months)
    assert 0.02 < expected < 0.98
    n_runs = 800
    found = odds(typed, n_runs=n_runs)
    assert abs(found.any_site_row_frac - expected) < 4 * sqrt(expected * (1 - expected) / n_runs)
    assert found.given_site_row_frac == found.any_site_row_frac


def test_the_formula_itself_counts_right():
    """All four of four people in four draws: 4! / 4**4."""
    assert at_least_distinct(4, 4, 4) == pytest.approx(24 / 256)
    assert at_least_distinct(1, 7, 3) == pytest.approx(1)


def test_fewer_members_than_k_never_show_a_row():
    found = odds(replace(VILLAGE, members=4))
    assert (found.any_site_row_frac, found.given_site_row_frac, found.still_waiting_frac) == (0, 0, 1)


@pytest.mark.parametrize(
    "worse",
    [{"members": 7}, {"sites": 11}, {"k": 9}, {"months": 2}, {"wears_a_month": 2}],
    ids=lambda worse: next(iter(worse)),
)
def test_what_makes_rows_rarer(worse):
    better, found = odds(VILLAGE), odds(replace(VILLAGE, **worse))
    assert found.given_site_row_frac < better.given_site_row_frac - 0.1


def test_equal_numbers_and_seeds_give_equal_odds():
    assert odds(VILLAGE, seed=7) == odds(VILLAGE, seed=7)
    assert odds(VILLAGE, seed=7) != odds(VILLAGE, seed=8)


def test_the_cap_keeps_wears_waiting_however_many_meet():
    """Six people at one site with one model: at most three wears of each count, however many there are."""
    found = odds(Typed(members=6, wears_a_month=20, sites=1, sites_a_member=1, months=10), n_runs=5)
    assert 1 - 6 * 3 / 200 <= found.still_waiting_frac < 1 - 6 * 2 / 200


def test_a_row_without_the_model_takes_two_dates_of_waiting():
    """Eight people with about eight models: no five share one, and from month 3 on any model counts."""
    apart = Typed(members=8, wears_a_month=20, sites=1, sites_a_member=1, sensor_models=20, months=2)
    assert odds(apart, n_runs=10).any_site_row_frac == 0
    assert odds(replace(apart, months=3), n_runs=10).any_site_row_frac == 1


def test_the_assumptions_are_told_with_the_odds():
    assert odds(VILLAGE, n_runs=1).assumed == ASSUMED


@pytest.mark.parametrize(
    "changes",
    [*({name: most + 1} for name, most in MOST.items()), {"members": 0}, {"k": 1}, {"sites": 1}],
    ids=str,
)
def test_numbers_out_of_range_are_refused(changes):
    with pytest.raises(InvalidInput):
        replace(VILLAGE, **changes)


def test_no_run_is_no_answer():
    with pytest.raises(InvalidInput):
        odds(VILLAGE, n_runs=0)
