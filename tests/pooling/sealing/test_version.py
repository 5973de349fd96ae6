import math

import numpy as np
import pytest
from scipy.stats import chi2

from pooling.sealing.version import (
    CHANNELS,
    CURRENT,
    FAMILIES,
    MASK_SDS,
    SEAL_VERSION_1,
    SQUARES_SDS,
    VERSIONS,
    log_chi_square_moments,
)


@pytest.mark.parametrize("n_pairs", [2, 8, 30, 200])
def test_moments_of_a_log_variance_are_those_of_chi_square(n_pairs):
    """Against quadrature over the chi-square density of scipy.stats."""
    nu = n_pairs - 1
    mean = chi2.expect(lambda x: np.log(x / nu), args=(nu,))
    second = chi2.expect(lambda x: np.log(x / nu) ** 2, args=(nu,))
    assert log_chi_square_moments(n_pairs) == pytest.approx((mean, second - mean**2), rel=1e-4)


def test_noise_of_a_sum_is_for_the_one_with_the_most_weight():
    """A wearer of weight q has the assumed variance b / q, and so adds variance q b: the noise is 2.3 sds of that."""
    constants = SEAL_VERSION_1.channels["location"]
    b = constants.person_sd**2 + constants.person_cell_sd**2
    q = 0.6
    assert constants.sum_mask_sd(q) == pytest.approx(MASK_SDS * q * math.sqrt(b / q))
    assert constants.tie_mask_sd(q) == pytest.approx(MASK_SDS * math.sqrt(q) * constants.person_cell_sd)
    assert constants.squares_mask_sd(q, b) == pytest.approx(SQUARES_SDS * b)


@pytest.mark.parametrize("channel", [*FAMILIES["survival"], *FAMILIES["skin"]])
def test_noise_of_a_number_of_people_is_about_a_person(channel):
    """One who has it adds q; and squares, a function of the number, are masked more."""
    constants = SEAL_VERSION_1.channels[channel]
    assert constants.sum_mask_sd(0.1) >= 0.8 * 0.1
    assert constants.squares_mask_sd(0.1, constants.person_variance) >= 3 * 0.8 * 0.1


def test_only_what_readings_tell_is_masked_among_sampling_variances():
    sds = {channel: SEAL_VERSION_1.channels[channel].seen_mask_sd(1.0) for channel in CHANNELS}
    assert [channel for channel, sd in sds.items() if sd] == ["location", "direct"]
    assert SEAL_VERSION_1.shape_mask_sd(100) == pytest.approx(10 * SEAL_VERSION_1.shape_mask_sd(1))


def test_unmasked_version_keeps_the_weights_and_masks_nothing():
    bare = SEAL_VERSION_1.unmasked(number=99, grid_bits=60)
    for channel in CHANNELS:
        frozen, free = SEAL_VERSION_1.channels[channel], bare.channels[channel]
        assert (free.wear_sd, free.noise, free.reference) == (frozen.wear_sd, frozen.noise, frozen.reference)
        assert free.sum_mask_sd(1.0) == free.tie_mask_sd(1.0) == free.squares_mask_sd(1.0, 1.0) == 0
    assert bare.shape_mask_sd(9) == 0


@pytest.mark.parametrize("channel", ["location", "direct", "rate15"])
@pytest.mark.parametrize("wrong", [(2, 2), (0.5, 0.5), (2, 0.5), (0.5, 2)], ids=str)
def test_weights_of_constants_that_are_wrong_by_two_cost_a_few_percent(channel, wrong):
    """Standard error of a cell mean under the frozen weights, over the best: spreads of people and wears are off."""
    rng, own = np.random.default_rng(1), SEAL_VERSION_1.channels[channel]
    weights, variances, best = [], [], []
    for _ in range(1_000):
        noise = own.noise / np.clip(np.exp(rng.normal(3.4, 0.7, 1 + rng.poisson(1))), 8, 200)
        frozen, truth = 1 / (own.wear_sd**2 + noise), 1 / ((wrong[1] * own.wear_sd) ** 2 + noise)
        share, people = frozen / frozen.sum(), wrong[0] ** 2 * own.person_variance
        weights.append(own.person_variance / (own.person_variance + 1 / frozen.sum()))
        variances.append(people + share**2 @ (1 / truth))
        best.append(1 / (people + 1 / truth.sum()))
    used = np.square(weights) @ np.array(variances) / np.sum(weights) ** 2
    assert 1 <= (used * np.sum(best)) ** 0.5 < 1.045


def test_grid_holds_powers_of_two_exactly():
    assert SEAL_VERSION_1.from_grid(SEAL_VERSION_1.to_grid(0.125)) == 0.125
    assert SEAL_VERSION_1.to_grid(2.0**-41 * 0.99) == 0


def test_versions_are_known_by_number():
    assert VERSIONS == {1: SEAL_VERSION_1}
    assert CURRENT in VERSIONS.values()
