import math

import numpy as np
import pytest
from scipy.stats import chi2

from pooling.sealing.version import CHANNELS, SEAL_VERSION_1, VERSIONS, log_chi_square_moments, n_alike


@pytest.mark.parametrize("n_pairs", [2, 8, 30, 200])
def test_moments_of_a_log_variance_are_those_of_chi_square(n_pairs):
    """Against quadrature over the chi-square density of scipy.stats."""
    nu = n_pairs - 1
    mean = chi2.expect(lambda x: np.log(x / nu), args=(nu,))
    second = chi2.expect(lambda x: np.log(x / nu) ** 2, args=(nu,))
    assert log_chi_square_moments(n_pairs) == pytest.approx((mean, second - mean**2), rel=1e-4)


@pytest.mark.parametrize("channel", CHANNELS)
def test_means_are_rounded_to_half_the_sd_between_people(channel):
    constants = SEAL_VERSION_1.channels[channel]
    assert constants.step == pytest.approx(0.5 * math.hypot(constants.person_sd, constants.person_cell_sd))
    assert constants.tie_step > 0


@pytest.mark.parametrize("n", [2, 5, 9, 500])
def test_the_last_of_any_number_of_wearers_is_hidden_as_well_as_the_last_of_five(n):
    """Whoever takes n - 1 known values from n times the mean is left with one value and n times the rounding."""
    constants = SEAL_VERSION_1.channels["location"]
    step, noise_step = constants.steps(n_alike([0.3] * n))
    assert n * step == pytest.approx(5 * constants.step)
    assert n * noise_step == pytest.approx(5 * constants.noise_step)


def test_one_who_weighs_more_than_all_others_hides_as_well():
    """Taken out of the mean, the own share of the weight divides the rounding."""
    constants = SEAL_VERSION_1.channels["tail"]
    weights = [0.6, *[0.03] * 4]
    step, _ = constants.steps(n_alike(weights))
    assert step * sum(weights) / max(weights) == pytest.approx(5 * constants.step)


def test_spreads_computed_from_readings_are_rounded_like_the_log_variance():
    """A sampling variance tells a wear's spread; unrounded it would undo the rounding of the dispersion channel."""
    for channel in ("location", "direct"):
        assert SEAL_VERSION_1.channels[channel].noise_step == pytest.approx(SEAL_VERSION_1.channels["dispersion"].step)


def test_unrounded_version_keeps_the_weights_and_rounds_nothing():
    bare = SEAL_VERSION_1.unrounded(number=99, grid_bits=60)
    for channel in CHANNELS:
        frozen, free = SEAL_VERSION_1.channels[channel], bare.channels[channel]
        assert (free.wear_sd, free.noise, free.reference) == (frozen.wear_sd, frozen.noise, frozen.reference)
        assert free.step == free.noise_step == free.tie_step == 0


def test_grid_holds_powers_of_two_exactly():
    assert SEAL_VERSION_1.from_grid(SEAL_VERSION_1.to_grid(0.125)) == 0.125
    assert SEAL_VERSION_1.to_grid(2.0**-41 * 0.99) == 0


def test_versions_are_known_by_number():
    assert VERSIONS == {1: SEAL_VERSION_1}
