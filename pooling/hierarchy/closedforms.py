"""Expected values of a log-normal relative error in closed form, and their mixtures over uncertain variances."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr
from scipy.stats import chi2

Floats = NDArray[np.float64]

LARGEST_SD = 2.5
"""Log sds are capped here, in estimates as in any truth they are compared with: with log-normally varying variances the
expectation has no finite value otherwise."""

_SMALLEST_SD = 1e-12
_KURTOSIS_NODES = 12


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
    0.079904
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
    0.8669
    """
    mean = np.asarray(mean, dtype=np.float64)
    sd = np.clip(sd, _SMALLEST_SD, LARGEST_SD)
    return ndtr((np.log1p(band) - mean) / sd) - ndtr((np.log1p(-band) - mean) / sd)


def kurtosis_scales(kurtosis: float) -> Floats:
    """Return equally likely factors on a variance that give readings about the stated excess kurtosis.

    A t distribution with 4 + 6 / kurtosis degrees of freedom has that kurtosis and is a normal whose variance varies;
    twelve quantiles of that variation stand for it, scaled to mean 1.

    >>> kurtosis_scales(0.0)
    array([1.])
    """
    if kurtosis <= 0.05:
        return np.ones(1)
    freedom = 4.0 + 6.0 / kurtosis
    levels = (np.arange(_KURTOSIS_NODES) + 0.5) / _KURTOSIS_NODES
    scales = (freedom - 2.0) / chi2.ppf(levels, freedom)
    return scales / scales.mean()


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
        shape = np.broadcast_shapes(*(np.shape(part) for part in self._parts()))
        low, high = np.zeros(shape), np.full(shape, 4 * LARGEST_SD)
        for _ in range(50):
            middle = (low + high) / 2
            held = self._average(lambda _, sd, half=middle: 2 * ndtr(half / sd) - 1)
            low, high = np.where(held < share, middle, low), np.where(held < share, high, middle)
        return (low + high) / 2

    def _parts(self) -> tuple[Floats, ...]:
        return self.location, self.location_variance, self.log_variance, self.log_variance_variance

    def _average(self, formula) -> Floats:
        """Average a formula of (mean, sd) over seven Gauss-Hermite nodes of the log variance and the tail's scales."""
        nodes, weights = np.polynomial.hermite_e.hermegauss(7)
        weights = weights / weights.sum()
        scales = kurtosis_scales(self.kurtosis)
        spread = np.sqrt(self.log_variance_variance)
        total: Floats | float = 0.0
        for node, weight in zip(nodes, weights, strict=True):
            variance = np.exp(np.minimum(self.log_variance + spread * node, 50.0))
            for scale in scales:
                sd = np.clip(np.sqrt(self.location_variance + scale * variance), _SMALLEST_SD, LARGEST_SD)
                total = total + weight / len(scales) * formula(self.location, sd)
        return np.asarray(total)
