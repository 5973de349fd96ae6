"""The margin of a fair test against simulation, a rule of thumb from outside, and plain limits."""

import math

import numpy as np
import pytest
from statsmodels.stats.power import NormalIndPower

from pooling.planning import WearSpread, enough_pairs, precision, wear_spread
from pooling.planning.precision import difference_sd_points
from tests.pooling.own.documents import document

SPREAD = WearSpread(2.0, 9.0, "starter")


@pytest.mark.parametrize(("pairs", "wears"), [(8, 1), (30, 2), (60, 5)])
def test_the_variance_is_that_of_simulated_tests(pairs, wears):
    """20,000 tests of one person at two sites, each pair drawn; four Monte Carlo errors of a variance."""
    rng = np.random.default_rng(pairs)
    shape = (20_000, 2, wears)
    mean = 2.0 * rng.standard_normal(shape)
    for _ in range(pairs):
        mean += 9.0 * rng.standard_normal(shape) / pairs
    found = np.diff(mean.mean(axis=2), axis=1).var()
    expected = difference_sd_points(SPREAD, pairs_per_wear=pairs, wears_per_site=wears) ** 2
    assert found == pytest.approx(expected, rel=4 * math.sqrt(2 / 20_000))


def test_seen_4_times_of_5_is_power_of_eighty_percent():
    """Against statsmodels' power of a two-sided normal comparison of two groups of one each."""
    found = precision(SPREAD, pairs_per_wear=30, wears_per_site=1)
    one = difference_sd_points(SPREAD, pairs_per_wear=30, wears_per_site=1) / math.sqrt(2)
    effect = NormalIndPower().solve_power(nobs1=1, alpha=0.05, power=0.8, ratio=1, alternative="two-sided")
    assert found.seen_points == pytest.approx(effect * one, rel=1e-3)


def test_it_agrees_with_lehrs_rule():
    """n = 16 s²/d² a group for 80 % power at 5 % (Lehr, Stat Med 1992;11:1099; from memory)."""
    wears = 4
    one = difference_sd_points(SPREAD, pairs_per_wear=30, wears_per_site=1) / math.sqrt(2)
    seen = precision(SPREAD, pairs_per_wear=30, wears_per_site=wears).seen_points
    assert 16 * one**2 / seen**2 == pytest.approx(wears, rel=0.03)


def test_from_enough_pairs_on_twice_as_many_narrow_by_less_than_a_tenth():
    for spread in (SPREAD, WearSpread(1.0, 8.0, "edition"), WearSpread(3.0, 9.0, "edition")):
        n = enough_pairs(spread)

        def kept(pairs, spread=spread):
            few, many = (difference_sd_points(spread, pairs_per_wear=k, wears_per_site=1) for k in (pairs, 2 * pairs))
            return many / few

        assert kept(n) >= 0.9
        assert n == 8 or kept(n - 1) < 0.9


def test_no_number_of_fingersticks_makes_up_for_wears():
    floor = precision(SPREAD, pairs_per_wear=100_000, wears_per_site=2).margin_points
    assert precision(SPREAD, pairs_per_wear=30, wears_per_site=4).margin_points < floor
    assert enough_pairs(WearSpread(0.0, 9.0, "edition")) == 200


def test_spreads_come_from_the_edition_where_it_tells_them():
    told = document()
    assert wear_spread(told).basis == "starter"  # its block has no spread of the direct channel
    told["model"]["spreads"]["direct"] = {"wear": {"value": 0.017}}
    found = wear_spread(told)
    assert (found.basis, found.between_wears_points) == ("edition", pytest.approx(1.7))
    # Bands start at 100, 30 and 20 people, MARD is 9.1, 10.4 and 13.4; variance 0.8 of its square as at 10 %.
    mard = (100 * 9.1 + 30 * 10.4 + 20 * 13.4) / 150
    assert found.between_pairs_points == pytest.approx(math.sqrt(0.8) * mard, abs=0.05)
    assert wear_spread(None).between_wears_points == pytest.approx(2.0)


def test_a_pair_scatters_at_least_as_much_as_normal_errors_would_have_it():
    """SD of ARD is 0.6028/0.7979 of MARD for normal errors (half-normal law; handbook)."""
    found = wear_spread(None)
    assert found.between_pairs_points > 10 * math.sqrt(1 - 2 / math.pi) / math.sqrt(2 / math.pi)
