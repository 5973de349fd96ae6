from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import chi2, norm, t

from pooling.hierarchy.closedforms import (
    LARGEST_SD,
    Mixture,
    expected_relative_difference,
    kurtosis_scales,
    probability_within,
)


@pytest.mark.parametrize(("mean", "sd"), [(0.0, 0.1), (0.05, 0.08), (-0.2, 0.3), (0.0, 1.2), (0.3, 0.01)])
def test_expected_difference_and_share_are_those_of_quadrature(mean, sd):
    def integral(function):
        edges = [mean - 12 * sd, *sorted({0.0, np.log(1.15), np.log(0.85)}), mean + 12 * sd]
        edges = [edge for edge in sorted(edges) if abs(edge - mean) <= 12 * sd]
        return sum(
            quad(lambda z: function(z) * norm.pdf(z, mean, sd), a, b, epsabs=1e-13, limit=200)[0]
            for a, b in pairwise(edges)
        )

    assert expected_relative_difference(mean, sd) == pytest.approx(integral(lambda z: abs(np.expm1(z))), abs=1e-10)
    expected = integral(lambda z: float(abs(np.expm1(z)) <= 0.15))
    assert probability_within(mean, sd, 0.15) == pytest.approx(expected, abs=1e-9)


def test_absurd_spreads_are_capped():
    assert expected_relative_difference(0.0, 100.0) == expected_relative_difference(0.0, LARGEST_SD)
    assert np.isfinite(expected_relative_difference(0.0, 0.0))


@pytest.mark.parametrize("kurtosis", [0.5, 2.0, 6.0])
def test_scales_are_those_of_a_t_distribution(kurtosis):
    """Mean 1 exactly; mean square root, which a relative difference follows, against scipy.stats; kurtosis nearly kept.

    A normal whose variance is scaled has excess kurtosis 3 Var(scale) (its fourth moment is 3 E scale^2).
    """
    scales, weights = kurtosis_scales(kurtosis)
    freedom = 4 + 6 / kurtosis
    assert weights.sum() == pytest.approx(1)
    assert weights @ scales == pytest.approx(1, rel=1e-12)
    root = chi2.expect(lambda x: np.sqrt((freedom - 2) / x), args=(freedom,))
    assert weights @ np.sqrt(scales) == pytest.approx(root, rel=2e-3)
    if kurtosis <= 2:
        assert 3 * (weights @ scales**2 - 1) == pytest.approx(kurtosis, rel=0.15)


def test_mixture_without_variation_is_the_closed_form():
    mixture = Mixture(np.array([0.03]), np.array([0.002]), np.array([-5.0]), np.array([0.0]), 0.0)
    sd = np.sqrt(0.002 + np.exp(-5.0))
    assert mixture.mean_relative_difference() == pytest.approx(expected_relative_difference(0.03, sd), rel=1e-12)
    assert mixture.share_within(0.2) == pytest.approx(probability_within(0.03, sd, 0.2), rel=1e-12)
    assert mixture.central_half_width(0.8) == pytest.approx(norm.ppf(0.9) * sd, abs=1e-8)


def test_mixture_follows_simulation_with_heavy_tails():
    """Against a million draws of the law it stands for: log-normal variances, t readings on 5 degrees of freedom."""
    rng = np.random.default_rng(2)
    n = 1_000_000
    kurtosis = 6.0
    variance = np.exp(-4.8 + 0.45 * rng.standard_normal(n))
    scale = t.std(5)
    z = 0.02 + 0.05 * rng.standard_normal(n) + np.sqrt(variance) * rng.standard_t(5, n) / scale
    z = np.clip(z, -2, 2)
    mixture = Mixture(np.array([0.02]), np.array([0.0025]), np.array([-4.8]), np.array([0.45**2]), kurtosis)
    assert mixture.mean_relative_difference()[0] == pytest.approx(np.abs(np.expm1(z)).mean(), rel=0.005)
    assert mixture.share_within(0.15)[0] == pytest.approx((np.abs(np.expm1(z)) <= 0.15).mean(), abs=0.005)
    held = np.abs(z - 0.02) <= mixture.central_half_width(0.8)[0]
    assert held.mean() == pytest.approx(0.8, abs=0.005)
