"""Intervals of one wear's figures, by drawing stretches of its time again and again.

Readings of one day resemble each other: the sensor that sits badly this morning does so at noon. So whole stretches are
drawn, never single pairs, and all draws of a set of pairs are one matrix product.
"""

import hashlib
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy import special

from pooling.accuracy import share_interval
from pooling.columns import Ints, PairColumns, pack

Floats = NDArray[np.float64]
Interval = tuple[float, float]

N_DRAWS = 2_000
CONFIDENCE = 0.95
STRETCHES_MIN = (1_440, 720, 360, 180, 60, 5)
FEWEST_STRETCHES = 8


@dataclass(frozen=True, slots=True)
class Draws:
    """How often each pair came in each draw; `weights` has shape (n_draws, n_pairs)."""

    weights: Floats
    n_stretches: int
    stretch_min: int


def generator_of(columns: PairColumns) -> np.random.Generator:
    """A generator seeded by the readings themselves: the same wear has the same report, whenever it is asked for."""
    return np.random.default_rng(int.from_bytes(hashlib.sha256(pack(columns)).digest()))


def draw(elapsed_min: Ints, rng: np.random.Generator, *, n_draws: int = N_DRAWS) -> Draws | None:
    """Draw the stretches of time that hold these pairs with replacement.

    Assumptions: stretches are exchangeable and independent. Their length is the longest of a day, 12, 6, 3 and 1 hour
    and five minutes of which at least 8 hold a pair.

    Parameters
    ----------
    elapsed_min : ndarray of int, shape (n_pairs,), minutes since insertion
    rng : Generator
    n_draws : int, above 0

    Returns
    -------
    Draws or None
        None where fewer than 8 moments hold a pair: too few to say how wide a margin is.

    References
    ----------
    Davison AC, Hinkley DV. Bootstrap Methods and their Application. Cambridge 1997, section 3.8, drawing of whole
    groups (from memory).

    Examples
    --------
    >>> drawn = draw(np.arange(0, 14_400, 360), np.random.default_rng(1), n_draws=3)
    >>> drawn.weights.shape, drawn.n_stretches, drawn.stretch_min
    ((3, 40), 10, 1440)
    """
    for stretch_min in STRETCHES_MIN:
        found, stretch = np.unique(elapsed_min // stretch_min, return_inverse=True)
        if found.size >= FEWEST_STRETCHES:
            return Draws(_times_drawn(int(found.size), rng, n_draws)[:, stretch], int(found.size), stretch_min)
    return None


def _times_drawn(n: int, rng: np.random.Generator, n_draws: int) -> Floats:
    """How often each of n came when n were drawn with replacement; shape (n_draws, n)."""
    drawn = rng.integers(n, size=(n_draws, n)) + n * np.arange(n_draws)[:, None]
    return np.bincount(drawn.ravel(), minlength=n_draws * n).reshape(n_draws, n).astype(np.float64)


def mean_intervals(drawn: Draws, values: Floats) -> Floats:
    """Intervals (95 %) of the means of several measures of the same pairs.

    Parameters
    ----------
    drawn : Draws
    values : ndarray, shape (n_measures, n_pairs)

    Returns
    -------
    ndarray, shape (n_measures, 2)
        Expanded percentiles: the tails are those of a t interval, since plain percentiles of few groups are too narrow.

    References
    ----------
    Hesterberg TC. Am Stat 2015;69:371-386, expanded percentile interval (from memory).
    """
    return np.quantile(_means(drawn, values), _tails(drawn.n_stretches), axis=0).T


def median_interval(drawn: Draws, values: Floats) -> Interval:
    """Interval (95 %) of the median of one measure, as `mean_intervals`."""
    order = np.argsort(values)
    ordered, reached = values[order], np.cumsum(drawn.weights[:, order], axis=1)
    half = reached[:, -1:] / 2
    medians = (ordered[np.argmax(reached >= half, axis=1)] + ordered[np.argmax(reached > half, axis=1)]) / 2
    low, high = np.quantile(medians, _tails(drawn.n_stretches))
    return float(low), float(high)


def share_intervals(drawn: Draws, inside: NDArray[np.bool_]) -> list[Interval]:
    """Intervals (95 %) of several shares of the same pairs, as fractions.

    Percentiles fail where all pairs or none are inside. So the draws only say how many independent pairs these are
    worth, and the exact binomial interval of so many follows.

    Parameters
    ----------
    drawn : Draws
    inside : ndarray of bool, shape (n_shares, n_pairs)

    Returns
    -------
    list of pairs of float

    References
    ----------
    Korn EL, Graubard BI. Survey Methodology 1998;24:193-201 (from memory).
    """
    n_pairs, g = inside.shape[1], drawn.n_stretches
    spread = _means(drawn, inside.astype(np.float64)).var(axis=0) * g / (g - 1)
    share = inside.mean(axis=1)
    expected = share * (1 - share) / n_pairs
    design_effect = np.maximum(1.0, np.divide(spread, expected, out=np.ones_like(share), where=expected > 0))
    correction = (_t(n_pairs - 1) / _t(g - 1)) ** 2
    return [
        share_interval(float(one), max(1.0, n_pairs / float(effect) * correction))
        for one, effect in zip(share, design_effect, strict=True)
    ]


def _means(drawn: Draws, values: Floats) -> Floats:
    """Mean of each measure in each draw; shape (n_draws, n_measures)."""
    return drawn.weights @ values.T / drawn.weights.sum(axis=1, keepdims=True)


@cache
def _tails(n_stretches: int) -> tuple[float, float]:
    tail = float(special.ndtr(-np.sqrt(n_stretches / (n_stretches - 1)) * _t(n_stretches - 1)))
    return tail, 1 - tail


@cache
def _t(degrees_of_freedom: int) -> float:
    return float(special.stdtrit(degrees_of_freedom, 0.5 + CONFIDENCE / 2))
