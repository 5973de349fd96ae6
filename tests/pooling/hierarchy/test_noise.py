"""Noise of 0 and 1 follows from the share seen, and stays finite where nobody or everybody had it."""

from dataclasses import replace

import numpy as np
import pytest

from pooling.hierarchy.noise import noise_factors, seen_factors
from pooling.hierarchy.pool import channel_pool
from pooling.sealing import SEAL_VERSION_1, VERSIONS, SealedBundle
from tests.pooling.hierarchy.outcomes import SHARES, sealed_days

RATED = {1: SEAL_VERSION_1.channels["on_rated"]}


def test_many_wearers_give_the_variance_of_one_draw_less_what_people_differ_by():
    """p (1 - p) of a Bernoulli draw; handbook variance."""
    factor = noise_factors(np.array([0.5, 0.7]), np.array([1e7, 1e7]), RATED)[1]
    lasting = RATED[1].person_variance / RATED[1].noise
    assert factor * RATED[1].noise == pytest.approx(0.24 * (1 - lasting), rel=1e-6)


@pytest.mark.parametrize("share", [0.0, 1.0, -0.1, 1.1])
def test_none_or_all_of_forty_count_as_two_and_two_added(share):
    """Agresti and Coull (1998): 40 people of whom none had it count as 2 of 44."""
    factor = noise_factors(np.array([share]), np.array([40.0]), RATED)[1]
    left = 1 - RATED[1].person_variance / RATED[1].noise
    assert factor * RATED[1].noise == pytest.approx(2 / 44 * 42 / 44 * left)


def test_cells_count_by_their_wearers():
    many_low = noise_factors(np.array([0.1, 0.5]), np.array([900.0, 10.0]), RATED)[1]
    many_high = noise_factors(np.array([0.1, 0.5]), np.array([10.0, 900.0]), RATED)[1]
    assert many_low < many_high


@pytest.mark.parametrize("channel", SHARES)
def test_the_pool_of_a_yes_or_no_channel_takes_its_noise_from_the_share(channel):
    """Everybody lasts: noise and squares are those of nearly no variation, not of the share the version assumed."""
    lasting, mixed = (channel_pool(sealed_days(share), channel, VERSIONS) for share in (1.0, 0.5))
    assert (np.diag(lasting.fixed) < np.diag(mixed.fixed)).all()
    assert np.diag(lasting.fixed).min() > 0


def test_noise_that_readings_tell_is_that_of_all_wearers_together():
    one, other = (
        SealedBundle(4, 1, 9, {"direct": (0,) * 6 + seen}, scope="everyone", kind="between")
        for seen in ((600, 400), (200, 400))
    )
    assert seen_factors([one, other], "direct") == {1: 1.0}
    assert seen_factors([replace(one, sums={"direct": (0,) * 6 + (-600, 400)})], "direct") == {1: 0.2}
    assert seen_factors([], "direct") == {}
