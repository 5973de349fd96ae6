"""Two ways of measuring one thing, held against each other: limits of agreement and two fits of a straight line."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from pooling.errors import InvalidInput

Floats = NDArray[np.float64]
Interval = tuple[float, float]

CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True)
class LimitsOfAgreement:
    """Mean difference a - b and the limits within which most single differences lie, in the unit of a and b."""

    bias: float
    sd: float
    lower: float
    upper: float
    bias_ci: Interval
    lower_ci: Interval
    upper_ci: Interval


@dataclass(frozen=True, slots=True)
class Line:
    """y = intercept + slope * x, with 95 % confidence intervals."""

    intercept: float
    slope: float
    intercept_ci: Interval
    slope_ci: Interval


# ---- limits of agreement ---------------------------------------------------------------------------------------------


def bland_altman(
    a: ArrayLike, b: ArrayLike, person: ArrayLike | None = None, multiplier: float = 1.96
) -> LimitsOfAgreement:
    """Limits of agreement of two measurements, for single or for repeated pairs a person.

    Assumptions: differences are roughly normal and do not grow with the level (for glucose, take logarithms first if
    they do). Without `person` every pair is independent; with it, people are, and the true value may change from pair
    to pair.

    Parameters
    ----------
    a, b : array_like, shape (n_pairs,), any one unit
        The difference is a - b.
    person : array_like of labels, shape (n_pairs,), optional
        Whose pair it is. The variance then is the sum of the one between and the one within people.
    multiplier : float, above 0
        1.96 for 95 % limits; older work uses 2.

    Returns
    -------
    LimitsOfAgreement
        Intervals are 95 %. For single pairs they follow the 1986 paper; for repeated pairs they come from leaving out
        one person at a time (jackknife, t with n_people - 1 degrees of freedom), because the paper gives none that
        holds for unequal numbers of pairs.

    Raises
    ------
    InvalidInput
        If lengths differ, a value is not finite, or there are fewer than 2 pairs (or, with `person`, fewer than 3
        people, or nobody with two pairs).

    References
    ----------
    Bland JM, Altman DG. Lancet 1986;i:307-310 (single). Bland JM, Altman DG. J Biopharm Stat 2007;17:571-582, section
    on a true value that varies (repeated).

    Examples
    --------
    >>> found = bland_altman([10, 12, 11], [9, 9, 9])
    >>> found.bias, found.sd, round(found.upper, 2)
    (2.0, 1.0, 3.96)
    """
    a, b = _two_vectors(a, b, fewest=2)
    if not multiplier > 0:
        raise InvalidInput("the multiplier must be above zero")
    difference = a - b
    if person is None:
        return _single_limits(difference, multiplier)
    return _repeated_limits(difference, person, multiplier)


def _single_limits(difference: Floats, multiplier: float) -> LimitsOfAgreement:
    n = difference.size
    bias, sd = float(difference.mean()), float(difference.std(ddof=1))
    t = _t_quantile(n - 1)
    half_bias = t * sd / np.sqrt(n)
    half_limit = t * sd * np.sqrt(3 / n)  # the approximation of the 1986 paper
    lower, upper = bias - multiplier * sd, bias + multiplier * sd
    return LimitsOfAgreement(
        bias, sd, lower, upper, _around(bias, half_bias), _around(lower, half_limit), _around(upper, half_limit)
    )


def _repeated_limits(difference: Floats, person: ArrayLike, multiplier: float) -> LimitsOfAgreement:
    labels = np.asarray(person)
    if labels.shape != difference.shape:
        raise InvalidInput("there must be one person label a pair")
    people, index = np.unique(labels, return_inverse=True)
    if people.size < 3 or people.size == difference.size:
        raise InvalidInput("repeated limits need at least 3 people, and somebody with two pairs")

    def estimate(kept: NDArray[np.bool_]) -> Floats:
        bias, sd = _mean_and_total_sd(difference[kept], index[kept])
        return np.array([bias, sd, bias - multiplier * sd, bias + multiplier * sd])

    whole = estimate(np.ones(difference.size, dtype=np.bool_))
    error = _jackknife_error(lambda left_out: estimate(index != left_out), people.size)
    half = _t_quantile(people.size - 1) * error
    bias, sd, lower, upper = whole.tolist()
    return LimitsOfAgreement(
        bias, sd, lower, upper, _around(bias, half[0]), _around(lower, half[2]), _around(upper, half[3])
    )


def _mean_and_total_sd(difference: Floats, index: NDArray[np.intp]) -> tuple[float, float]:
    """Mean, and the sd of one difference of one person, by one-way analysis of variance; no component goes below 0."""
    counts = np.bincount(index)
    sums = np.bincount(index, weights=difference)[counts > 0]
    counts = counts[counts > 0]
    n_pairs, n_people = difference.size, counts.size
    mean = float(difference.mean())
    between_ss = float((counts * (sums / counts - mean) ** 2).sum())
    within_ss = float(((difference - mean) ** 2).sum()) - between_ss
    within = max(0.0, within_ss) / (n_pairs - n_people) if n_pairs > n_people else 0.0
    pairs_a_person = (n_pairs**2 - float((counts**2).sum())) / ((n_people - 1) * n_pairs)
    between = max(0.0, (between_ss / (n_people - 1) - within) / pairs_a_person)
    return mean, float(np.sqrt(between + within))


def repeat_sd(a: ArrayLike, b: ArrayLike) -> float:
    """Sd of one measurement about its true value, from two measurements of each of several things.

    Assumptions: both have the same errors, independent of each other and of the level (take logarithms first if errors
    grow with the level; the result then is a coefficient of variation). An error that both share is not seen.

    Parameters
    ----------
    a, b : array_like, shape (n,), any one unit

    Returns
    -------
    float, in the unit of a and b

    Raises
    ------
    InvalidInput
        If lengths differ, a value is not finite, or there are fewer than 2 of each.

    References
    ----------
    Bland JM, Altman DG. Lancet 1986;i:307-310, on repeatability.

    Examples
    --------
    >>> repeat_sd([10, 20], [12, 20])
    1.0
    """
    a, b = _two_vectors(a, b, fewest=2)
    return float(np.sqrt(np.mean((a - b) ** 2) / 2))


# ---- straight lines --------------------------------------------------------------------------------------------------


def deming(x: ArrayLike, y: ArrayLike, error_ratio: float = 1.0) -> Line:
    """Straight line between two measurements that both have errors.

    Assumptions: errors are independent, with constant variances whose ratio is known.

    Parameters
    ----------
    x, y : array_like, shape (n_pairs,), any units
    error_ratio : float, above 0
        Variance of the errors of y over variance of the errors of x. Programs differ: some take the inverse.

    Returns
    -------
    Line
        Intervals are 95 %, from leaving out one pair at a time (jackknife, t with n_pairs - 2 degrees of freedom).

    Raises
    ------
    InvalidInput
        If lengths differ, a value is not finite, there are fewer than 4 pairs, or x and y do not vary together.

    Notes
    -----
    Closed form of Deming (Statistical Adjustment of Data, 1943; memory); jackknife errors as in Linnet, Stat Med
    1990;9:1463-1473 (memory).

    Examples
    --------
    >>> line = deming([1, 2, 3, 4], [3, 5, 7, 9])
    >>> round(line.intercept, 9), round(line.slope, 9)
    (1.0, 2.0)
    """
    x, y = _two_vectors(x, y, fewest=4)
    if not error_ratio > 0:
        raise InvalidInput("the error ratio must be above zero")
    whole = _deming_line(x, y, error_ratio)
    place = np.arange(x.size)
    error = _jackknife_error(
        lambda left_out: _deming_line(x[place != left_out], y[place != left_out], error_ratio), x.size
    )
    half = _t_quantile(x.size - 2) * error
    intercept, slope = whole.tolist()
    return Line(intercept, slope, _around(intercept, half[0]), _around(slope, half[1]))


def _deming_line(x: Floats, y: Floats, error_ratio: float) -> Floats:
    u, v = x - x.mean(), y - y.mean()
    sxx, syy, sxy = float(u @ u), float(v @ v), float(u @ v)
    if sxy == 0:
        raise InvalidInput("x and y do not vary together, so there is no line between them")
    excess = syy - error_ratio * sxx
    slope = (excess + np.hypot(excess, 2 * np.sqrt(error_ratio) * sxy)) / (2 * sxy)
    return np.array([y.mean() - slope * x.mean(), slope])


def passing_bablok(x: ArrayLike, y: ArrayLike) -> Line:
    """Straight line between two measurements that does without assumptions about the shape of their errors.

    Assumptions: x and y rise together along a line. Slopes between points of equal x count as infinite, between equal
    points not at all, and slopes of exactly -1 are left out. In practice 40 pairs or more are asked for.

    Parameters
    ----------
    x, y : array_like, shape (n_pairs,), any one unit

    Returns
    -------
    Line
        Intervals are 95 %, from the ranks of the slopes.

    Raises
    ------
    InvalidInput
        If lengths differ, a value is not finite, there are fewer than 4 pairs, or the points give no slope or no
        finite line.

    References
    ----------
    Passing H, Bablok W. J Clin Chem Clin Biochem 1983;21:709-720 (from memory).

    Examples
    --------
    >>> passing_bablok([1, 2, 3, 4], [3, 5, 7, 9]).slope
    2.0
    """
    x, y = _two_vectors(x, y, fewest=4)
    slopes = _pairwise_slopes(x, y)
    if slopes.size == 0:
        raise InvalidInput("the points give no slope; they are all the same, or all fall at 45 degrees")
    shift = int((slopes < -1).sum())
    n = x.size
    spread = stats.norm.ppf(0.5 + CONFIDENCE / 2) * np.sqrt(n * (n - 1) * (2 * n + 5) / 18)
    first = round((slopes.size - spread) / 2)
    slope = _shifted_median(slopes, shift)
    low = slopes[int(np.clip(first + shift - 1, 0, slopes.size - 1))]
    high = slopes[int(np.clip(slopes.size - first + shift, 0, slopes.size - 1))]
    if not np.isfinite([slope, low, high]).all():
        raise InvalidInput("too many points share their x value for a line between them")
    return Line(
        float(np.median(y - slope * x)),
        float(slope),
        (float(np.median(y - high * x)), float(np.median(y - low * x))),
        (float(low), float(high)),
    )


def _pairwise_slopes(x: Floats, y: Floats) -> Floats:
    """Slopes of all pairs of points, sorted. Differences are rounded, so that ties of typed decimals stay ties."""
    i, j = np.triu_indices(x.size, k=1)
    dx, dy = np.round(x[j] - x[i], 12), np.round(y[j] - y[i], 12)
    apart = (dx != 0) | (dy != 0)
    dx, dy = dx[apart], dy[apart]
    with np.errstate(divide="ignore"):
        slopes = np.where(dx == 0, np.copysign(np.inf, dy), dy / dx)
    return np.sort(slopes[np.round(slopes, 12) != -1])


def _shifted_median(ordered: Floats, shift: int) -> float:
    n = ordered.size
    low = min((n - 1) // 2 + shift, n - 1)
    high = min(n // 2 + shift, n - 1)
    return float((ordered[low] + ordered[high]) / 2)


# ---- shared ----------------------------------------------------------------------------------------------------------


def _two_vectors(a: ArrayLike, b: ArrayLike, *, fewest: int) -> tuple[Floats, Floats]:
    first, second = np.asarray(a, dtype=np.float64), np.asarray(b, dtype=np.float64)
    if first.ndim != 1 or first.shape != second.shape:
        raise InvalidInput("both measurements must be vectors of the same length")
    if not (np.isfinite(first).all() and np.isfinite(second).all()):
        raise InvalidInput("measurements must be finite; leave out pairs with a gap")
    if first.size < fewest:
        raise InvalidInput(f"at least {fewest} pairs are needed")
    return first, second


def _jackknife_error(estimate_without: Callable[[int], Floats], n: int) -> Floats:
    """Standard errors of several estimates, from leaving out one of `n` units at a time."""
    estimates = np.array([estimate_without(left_out) for left_out in range(n)])
    return np.sqrt((n - 1) / n * ((estimates - estimates.mean(axis=0)) ** 2).sum(axis=0))


def _t_quantile(degrees_of_freedom: int) -> float:
    return float(stats.t.ppf(0.5 + CONFIDENCE / 2, degrees_of_freedom))


def _around(centre: float, half_width: float) -> Interval:
    return (float(centre - half_width), float(centre + half_width))
