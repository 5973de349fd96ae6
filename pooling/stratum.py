"""Statistics of the pairs of one stratum of a wear: many strata computed at once, and two parts joined into one.

A reading enters as its log ratio y = log(sensor / reference) and its absolute relative difference d = |sensor /
reference - 1|. Sums are centred, so that a wear of equal readings has S = 0 exactly and not -1e-18.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pooling.accuracy import Floats, within_rules
from pooling.quiet import Quiet

Masks = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class PairErrors:
    """What every sum is made of, pair by pair."""

    y: Floats
    d: Floats
    within_15: Masks
    within_20: Masks


def errors_of(reference: Floats, sensor: Floats) -> PairErrors:
    """Log ratios and the rest of pairs in mg/dL in which the sensor showed a number."""
    within_15, within_20 = within_rules(reference, sensor, (15, 20))
    ratio = sensor / reference
    return PairErrors(y=np.log(ratio), d=np.abs(ratio - 1), within_15=within_15, within_20=within_20)


class Ends(Quiet, frozen=True, gc=False):
    """First and last reading of a stratum: needed to join parts, single readings, so gone from a finished summary."""

    first_y: float
    last_y: float
    first_d: float
    last_d: float


class Stratum(Quiet, frozen=True, gc=False):
    """Statistics of the counted pairs of one stratum, in order of time."""

    n_pairs: int = 0
    m: float = 0.0  # mean y
    s: float = 0.0  # sum (y - m)^2
    m3: float = 0.0  # sum (y - m)^3
    m4: float = 0.0  # sum (y - m)^4
    a1: float = 0.0  # sum d
    a2: float = 0.0  # sum d^2
    k15: int = 0  # pairs within 15/15
    k20: int = 0  # pairs within 20/20
    g: float = 0.0  # sum of (y_j - m)(y_{j-1} - m)
    ga: float = 0.0  # the same of d, about a1 / n
    ends: Ends | None = None


def strata_of(errors: PairErrors, member: Masks, *, keep_ends: bool) -> list[Stratum]:
    """Every stratum at once, so that the cost hardly grows with their number.

    Parameters
    ----------
    errors : PairErrors
        Of pairs in order of time.
    member : ndarray of bool, shape (n_strata, n_pairs)
        Which pair belongs to which stratum.
    keep_ends : bool
        Keep each stratum's first and last reading, for joining.

    Returns
    -------
    list of Stratum, one a row of `member`
    """
    y, d = errors.y, errors.d
    if y.size == 0:
        return [Stratum()] * len(member)
    n = np.count_nonzero(member, axis=1)
    weight = member.astype(np.float64)
    mean, absolute = weight @ y / np.maximum(n, 1), weight @ d
    deviations = _centred(np.stack([y, d]), np.stack([mean, absolute / np.maximum(n, 1)]), member, n)
    deviation = deviations[0]
    square = deviation * deviation
    lag_y, lag_d = _lag_products(deviations, member)
    figures = (
        n,
        mean,
        square.sum(axis=1),
        (square * deviation).sum(axis=1),
        (square * square).sum(axis=1),
        absolute,
        weight @ (d * d),
        np.count_nonzero(member & errors.within_15, axis=1),
        np.count_nonzero(member & errors.within_20, axis=1),
        lag_y,
        lag_d,
    )
    ends = _ends(y, d, member) if keep_ends else [None] * len(member)
    rows = zip(*(figure.tolist() for figure in figures), ends, strict=True)
    return [Stratum(*row) for row in rows]


def _centred(values: Floats, means: Floats, member: Masks, n: NDArray[np.int64]) -> Floats:
    """Deviations from each stratum's mean, 0 for pairs outside it; the mean is corrected once for rounding.

    Shapes: values (kinds, pairs), means (kinds, strata), result (kinds, strata, pairs).
    """
    deviation = np.where(member, values[:, None, :] - means[:, :, None], 0.0)
    correction = deviation.sum(axis=2) / np.maximum(n, 1)
    return np.where(member, deviation - correction[:, :, None], 0.0)


def _lag_products(deviations: Floats, member: Masks) -> Floats:
    """Sum over a stratum of each deviation times the one before it in the same stratum, for each kind of deviation."""
    places = np.where(member, np.arange(member.shape[1]), -1)
    before = np.maximum.accumulate(places, axis=1)[:, :-1]
    previous = np.zeros_like(deviations)
    rows = np.arange(len(member))[:, None]
    previous[:, :, 1:] = np.where(before >= 0, deviations[:, rows, before], 0.0)
    return (deviations * previous).sum(axis=2)


def _ends(y: Floats, d: Floats, member: Masks) -> list[Ends | None]:
    found: list[Ends | None] = []
    for row in member:
        places = np.flatnonzero(row)
        if places.size:
            first, last = places[0], places[-1]
            found.append(Ends(float(y[first]), float(y[last]), float(d[first]), float(d[last])))
        else:
            found.append(None)
    return found


def joined(a: Stratum, b: Stratum) -> Stratum:
    """Two parts of one stratum as one, `a` the earlier; exact up to rounding. Both hold their ends, or are empty.

    Notes
    -----
    Central moments by the pairwise update of Chan, Golub and LeVeque (Am Stat 1983;37:242-247) and its extension to
    higher moments by Pébay (Sandia report SAND2008-6212), both from memory; tests hold the result against the whole.
    """
    if a.ends is None or b.ends is None:  # one of them is empty
        return a if b.ends is None else b
    n_a, n_b = a.n_pairs, b.n_pairs
    n = n_a + n_b
    gap = b.m - a.m
    m = a.m + gap * n_b / n
    mean_a, mean_b, mean_d = a.a1 / n_a, b.a1 / n_b, (a.a1 + b.a1) / n
    return Stratum(
        n_pairs=n,
        m=m,
        s=a.s + b.s + gap**2 * n_a * n_b / n,
        m3=a.m3 + b.m3 + gap**3 * n_a * n_b * (n_a - n_b) / n**2 + 3 * gap * (n_a * b.s - n_b * a.s) / n,
        m4=a.m4
        + b.m4
        + gap**4 * n_a * n_b * (n_a**2 - n_a * n_b + n_b**2) / n**3
        + 6 * gap**2 * (n_a**2 * b.s + n_b**2 * a.s) / n**2
        + 4 * gap * (n_a * b.m3 - n_b * a.m3) / n,
        a1=a.a1 + b.a1,
        a2=a.a2 + b.a2,
        k15=a.k15 + b.k15,
        k20=a.k20 + b.k20,
        g=_recentred_lag(a.g, n_a, a.m, a.ends.first_y, a.ends.last_y, m)
        + _recentred_lag(b.g, n_b, b.m, b.ends.first_y, b.ends.last_y, m)
        + (a.ends.last_y - m) * (b.ends.first_y - m),
        ga=_recentred_lag(a.ga, n_a, mean_a, a.ends.first_d, a.ends.last_d, mean_d)
        + _recentred_lag(b.ga, n_b, mean_b, b.ends.first_d, b.ends.last_d, mean_d)
        + (a.ends.last_d - mean_d) * (b.ends.first_d - mean_d),
        ends=Ends(a.ends.first_y, b.ends.last_y, a.ends.first_d, b.ends.last_d),
    )


def _recentred_lag(g: float, n: int, mean: float, first: float, last: float, centre: float) -> float:
    """A sum of lag-1 products about `mean`, moved to another centre.

    With e = mean - centre, (u + e)(v + e) = uv + e (u + v) + e^2; the u + v of all n - 1 neighbours add up to twice
    everything (which is 0) less the first and the last.
    """
    e = mean - centre
    return g - e * (first + last - 2 * mean) + (n - 1) * e**2
