"""Contrasts of parts and their variances, against sums drawn again and again."""

from dataclasses import replace

import numpy as np
import pytest

from pooling.parts.contrasts import Scatter, against_whole, between, mean_of, share_of_first
from pooling.parts.sums import PartSums

PARTS = ("day1", "days2_7", "day8_on")
SCATTER = Scatter(pairs_per_person=40.0, relative_variance=0.75, person_variance=0.0011)


def sums(first, weight, *, value_noise=0.0, weight_noise=0.0, reference=0.1, squared_weight=0.0, parts=PARTS):
    first, weight = np.array(first, dtype=float), np.array(weight, dtype=float)
    n = len(parts)
    return PartSums(
        parts=parts,
        reference=reference,
        first=first,
        weight=weight,
        value_noise=value_noise * np.eye(n),
        weight_noise=weight_noise * np.eye(n),
        squared_weight=squared_weight,
        total=float(weight.sum()),
        typical=reference + first / weight,
        n_accounts=50,
    )


def test_without_noise_and_people_a_contrast_is_plain_arithmetic():
    own = sums((0.2, 0.0, -0.1), (10, 20, 20))
    told = against_whole(own, {"day1": 1.0}, SCATTER, yes_no=False)
    assert told.value == pytest.approx(0.02 - 0.1 / 50)
    assert told.variance == pytest.approx(0)
    assert between(own, "day1", "day8_on", SCATTER, yes_no=False).value == pytest.approx(0.02 + 0.005)
    assert mean_of(own, "days2_7", SCATTER, yes_no=False).value == pytest.approx(0.1)


def test_days_weigh_as_asked():
    """Known answer: 1 day, 6 and 7 of 14."""
    own = sums((0.2, 0.0, -0.1), (10, 20, 20))
    weights = {"day1": 1 / 14, "days2_7": 6 / 14, "day8_on": 7 / 14}
    told = against_whole(own, weights, SCATTER, yes_no=False)
    assert told.value == pytest.approx(0.02 / 14 - 0.005 / 2 - 0.1 / 50)


def test_shares_of_pairs_as_weights_leave_no_difference():
    own = sums((0.2, 0.0, -0.1), (10, 20, 20), value_noise=0.01, squared_weight=30.0)
    weights = dict(zip(PARTS, (0.2, 0.4, 0.4), strict=True))
    assert against_whole(own, weights, SCATTER, yes_no=False).value == pytest.approx(0, abs=1e-15)


@pytest.mark.parametrize("which", ["mean", "whole"])
def test_the_variance_of_masking_noise_is_that_of_drawing_it_again(which):
    rng = np.random.default_rng(1)
    bare = sums((0.2, 0.0, -0.1), (10, 20, 20), value_noise=0.09**2, weight_noise=0.4**2)
    noise = rng.multivariate_normal(np.zeros(3), 0.4**2 * np.eye(3), 20_000)
    values = []
    for off, weight_off in zip(rng.normal(0, 0.09, (20_000, 3)), noise, strict=True):
        drawn = sums(bare.first + off, bare.weight + weight_off)
        if which == "mean":
            values.append(drawn.mean[0])
        else:
            values.append(drawn.mean[0] - (0.1 + drawn.first.sum() / 50))
    ask = mean_of(bare, "day1", SCATTER, yes_no=False), against_whole(bare, {"day1": 1.0}, SCATTER, yes_no=False)
    assert np.var(values) == pytest.approx(ask[which == "whole"].variance, rel=0.05)


def test_people_add_what_readings_scatter():
    """A hundred people of weight 1, every part with as many readings: binomial noise of single readings and no more."""
    own = sums((30.0, 30.0, 30.0), (100 / 3,) * 3, reference=0.0, squared_weight=100.0)
    alone = mean_of(own, "day1", Scatter(1.0, 0.0, 0.0), yes_no=True).variance
    many = mean_of(own, "day1", Scatter(1e9, 0.0, 0.0), yes_no=True).variance
    chance = 0.9
    assert alone - many == pytest.approx(1.15 * chance * (1 - chance) * 3 / 100, rel=1e-6)


def test_a_part_whose_weight_is_noise_is_not_told():
    own = sums((0.2, 0.0, -0.1), (1, 20, 20), weight_noise=1.0)
    assert against_whole(own, {"day1": 1.0}, SCATTER, yes_no=False) is None
    assert against_whole(own, {"days2_7": 1.0}, SCATTER, yes_no=False) is not None
    assert mean_of(own, "nowhere", SCATTER, yes_no=False) is None


def test_false_lows_are_what_lies_outside_the_low_range():
    own = sums((6.0, 1.5, 0.5), (8, 60, 30), reference=0.0, value_noise=1e-4, squared_weight=60.0)
    told = share_of_first(own, "day1", SCATTER)
    assert told.value == pytest.approx(0.25, abs=1e-5)
    assert 0.02 < told.variance**0.5 < 0.12
    assert share_of_first(sums((6, 1, 1), (8, 60, 30), reference=0.0, value_noise=1.0), "day1", SCATTER) is None


def test_false_lows_are_right_in_the_mean_where_the_count_is_barely_told():
    """A count of 6.5 times its noise, drawn again 40,000 times. A look at the count itself would tell the high ones."""
    rng, noise = np.random.default_rng(4), 0.7
    bare = sums((6.0, 1.5, 0.4), (8, 60, 30), reference=0.0, value_noise=noise**2)
    drawn = [replace(bare, first=bare.first + off) for off in rng.normal(0, noise, (40_000, 3))]
    told = [share_of_first(own, "day1", SCATTER) for own in drawn]
    values = np.array([one.value for one in told if one is not None])
    truth = 1.9 / 7.9
    assert len(values) > 0.99 * len(drawn)
    assert values.mean() == pytest.approx(truth, abs=0.004)
    assert values.std() == pytest.approx(told[0].variance ** 0.5, rel=0.15)
    looked_at = np.array([1 - own.first[0] / own.first.sum() for own in drawn if own.first.sum() > 6 * 3**0.5 * noise])
    assert looked_at.mean() > truth + 0.015


def test_no_count_of_a_place_settles_how_sure_its_own_share_is():
    bare = sums((6.0, 1.5, 0.4), (8, 60, 30), reference=0.0, value_noise=0.25, squared_weight=60.0)
    more = replace(bare, first=np.array([7.0, 1.9, 0.3]))
    one, other = (share_of_first(own, "day1", SCATTER) for own in (bare, more))
    assert one.variance == other.variance
    assert one.value != other.value
