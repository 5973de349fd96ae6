"""Expected values of a log-normal relative error in closed form, and their mixtures over uncertain variances."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, roots_genlaguerre

Floats = NDArray[np.float64]

LARGEST_SD = 2.5
"""Log sds are capped here, in estimates as in any truth they are compared with: with log-normally varying variances the
expectation has no finite value otherwise."""

_SMALLEST_SD = 1e-12
_KURTOSIS_NODES = 8
_NO_KURTOSIS = 0.05
_LARGEST_LOG_VARIANCE = 50.0
_BISECTIONS = 32


def expected_relative_difference(mean: Floats | float, sd: Floats | float) -> Floats:
    """Return E|exp(Z) - 1| for normal Z with the given mean and sd (log units).

    Parameters
    ----------
    mean, sd : array_like
        Any broadcastable shapes; sd is taken between 1e-12 and 2.5.

    Returns
    -------
    ndarray
        A fraction; times 100 it is the mean absolute relative difference in percent.

    Notes
    -----
    Splitting the integral at Z = 0 leaves two normal probabilities and one tilted by exp(Z): the first partial moment
    of the log-normal distribution (Johnson, Kotz and Balakrishnan, Continuous Univariate Distributions, chapter on the
    log-normal; cited from memory). Compared with quadrature in the tests.

    Examples
    --------
    >>> round(float(expected_relative_difference(0.0, 0.1)), 6)
    0.080055
    """
    mean = np.asarray(mean, dtype=np.float64)
    sd = np.clip(sd, _SMALLEST_SD, LARGEST_SD)
    ratio = mean / sd
    return np.exp(mean + sd * sd / 2) * (2 * ndtr(ratio + sd) - 1) - (2 * ndtr(ratio) - 1)


def probability_within(mean: Floats | float, sd: Floats | float, band: float) -> Floats:
    """Return P(|exp(Z) - 1| <= band) for normal Z.

    Examples
    --------
    >>> round(float(probability_within(0.0, 0.1, 0.15)), 4)
    0.8668
    """
    mean = np.asarray(mean, dtype=np.float64)
    sd = np.clip(sd, _SMALLEST_SD, LARGEST_SD)
    return ndtr((np.log1p(band) - mean) / sd) - ndtr((np.log1p(-band) - mean) / sd)


def kurtosis_scales(kurtosis: float) -> tuple[Floats, Floats]:
    """Return factors on a variance, and their probabilities, that give readings the stated excess kurtosis.

    A t distribution with nu = 4 + 6 / kurtosis degrees of freedom has that kurtosis and is a normal whose variance is
    multiplied by (nu - 2) / chi-square. Gauss-Laguerre nodes integrate the chi-square, laid for its density over
    its value, so that the mean factor is 1 exactly.

    >>> kurtosis_scales(0.0)
    (array([1.]), array([1.]))
    """
    if kurtosis <= _NO_KURTOSIS:
        return np.ones(1), np.ones(1)
    freedom = 4.0 + 6.0 / kurtosis
    nodes, weights = roots_genlaguerre(_KURTOSIS_NODES, freedom / 2 - 2)
    weights = weights * nodes
    return (freedom - 2.0) / (2.0 * nodes), weights / weights.sum()


@dataclass(frozen=True)
class Mixture:
    """A law of one reading's log error: normal with a log-normally varying variance and heavy tails.

    Arrays broadcast: location and log_variance per cell, variances per draw. location_variance is added to every
    reading's variance; log_variance_variance says how much the log variance of a wear varies.
    """

    location: Floats
    location_variance: Floats
    log_variance: Floats
    log_variance_variance: Floats
    kurtosis: float

    def mean_relative_difference(self) -> Floats:
        """Expected |sensor / reference - 1| as a fraction."""
        return self._average(expected_relative_difference)

    def share_within(self, band: float) -> Floats:
        """Probability that a reading lies within the band (a fraction of the reference)."""
        return self._average(lambda mean, sd: probability_within(mean, sd, band))

    def central_half_width(self, share: float) -> Floats:
        """Half-width around the location that holds the given share of readings, in log units, by bisection."""
        laws = list(self._laws())
        low = np.zeros(np.shape(laws[0][1]))
        high = low + 4 * LARGEST_SD
        for _ in range(_BISECTIONS):
            middle = (low + high) / 2
            held = sum(weight * (2 * ndtr(middle / sd) - 1) for weight, sd in laws)
            low, high = np.where(held < share, middle, low), np.where(held < share, high, middle)
        return (low + high) / 2

    def _average(self, formula: Callable[[Floats, Floats], Floats]) -> Floats:
        return np.asarray(sum(weight * formula(self.location, sd) for weight, sd in self._laws()))

    def _laws(self) -> Iterator[tuple[float, Floats]]:
        """Normal laws that make up the mixture, as probability and sd: seven Gauss-Hermite nodes times the tail's."""
        nodes, weights = np.polynomial.hermite_e.hermegauss(7)
        scales, shares = kurtosis_scales(self.kurtosis)
        spread = np.sqrt(self.log_variance_variance)
        for node, weight in zip(nodes, weights / weights.sum(), strict=True):
            variance = np.exp(np.minimum(self.log_variance + spread * node, _LARGEST_LOG_VARIANCE))
            for scale, share in zip(scales, shares, strict=True):
                sd = np.clip(np.sqrt(self.location_variance + scale * variance), _SMALLEST_SD, LARGEST_SD)
                yield float(weight * share), sd
