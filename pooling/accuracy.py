"""How far sensor readings lie from the fingersticks beside them: the field's usual measures, each by its usual name."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from pooling.errors import InvalidInput

SWITCH_MG_DL = 100.0
TOLERANCE = 1e-9
CONFIDENCE = 0.95
HALF_NORMAL_MEAN = math.sqrt(2 / math.pi)
"""Mean of an absolute normal error in units of its sd: an unbiased error of CV c gives a MARD of 0.798 c."""

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Agreement:
    """Agreement of one set of pairs. ARD is the absolute difference in percent of the reference.

    The shares from 15/15 to 40/40 use mg/dL for references below 100 mg/dL and percent from 100 on, ends included.
    """

    n_pairs: int
    mard_pct: float
    median_ard_pct: float
    mad_mg_dl: float
    bias_mg_dl: float
    relative_bias_pct: float
    within_15_15_pct: float
    within_20_20_pct: float
    within_30_30_pct: float
    within_40_40_pct: float


def checked_pairs(reference_mg_dl: ArrayLike, sensor_mg_dl: ArrayLike) -> tuple[Floats, Floats]:
    """Both sides of a set of pairs as float64 vectors.

    Raises
    ------
    InvalidInput
        If they are not two vectors of one length, if a number is not finite, or a reference not above zero.
    """
    reference = np.asarray(reference_mg_dl, dtype=np.float64)
    sensor = np.asarray(sensor_mg_dl, dtype=np.float64)
    if reference.ndim != 1 or reference.shape != sensor.shape:
        raise InvalidInput("reference and sensor readings must be two vectors of the same length")
    if not (np.isfinite(reference).all() and np.isfinite(sensor).all()):
        raise InvalidInput("readings must be finite; leave out pairs in which the sensor showed no number")
    if (reference <= 0).any():
        raise InvalidInput("reference readings must be above zero")
    return reference, sensor


def within_rule(
    reference_mg_dl: ArrayLike, sensor_mg_dl: ArrayLike, band: float, *, switch_mg_dl: float = SWITCH_MG_DL
) -> NDArray[np.bool_]:
    """Which pairs agree within `band` mg/dL (low references) or `band` percent (the others).

    Assumptions: the reference decides which of the two applies, never the sensor. From the switch on it is percent.
    Both ends count as inside, with a tolerance of 1e-9 mg/dL, because 1.15 times 181 is not 208.15 in floating point.

    Parameters
    ----------
    reference_mg_dl, sensor_mg_dl : array_like, shape (n_pairs,), mg/dL
    band : float, above 0
        15 for the 15/15 rule, 20 for 20/20.
    switch_mg_dl : float, mg/dL
        Studies differ: most use 100 (as in ISO 15197:2013), some 70; so whoever shows a share names the switch.

    Returns
    -------
    ndarray of bool, shape (n_pairs,)

    Raises
    ------
    InvalidInput
        As `checked_pairs`, or if `band` is not above zero.

    Examples
    --------
    >>> within_rule([181, 181, 99], [208.15, 208.2, 114], 15).tolist()
    [True, False, True]
    """
    (within,) = within_rules(reference_mg_dl, sensor_mg_dl, (band,), switch_mg_dl=switch_mg_dl)
    return within


def within_rules(
    reference_mg_dl: ArrayLike, sensor_mg_dl: ArrayLike, bands: Iterable[float], *, switch_mg_dl: float = SWITCH_MG_DL
) -> list[NDArray[np.bool_]]:
    """As `within_rule`, for several bands."""
    reference, sensor = checked_pairs(reference_mg_dl, sensor_mg_dl)
    apart, in_mg_dl = np.abs(sensor - reference), reference < switch_mg_dl
    within = []
    for band in bands:
        if not band > 0:
            raise InvalidInput("the band must be above zero")
        within.append(apart <= np.where(in_mg_dl, band, band / 100 * reference) + TOLERANCE)
    return within


def agreement(reference_mg_dl: ArrayLike, sensor_mg_dl: ArrayLike) -> Agreement:
    """Every usual measure of agreement for one set of pairs.

    Assumptions: pairs count equally, so this describes these pairs, not the people or sensors behind them. MARD is the
    mean of the absolute relative differences, each relative to its own reference (not a ratio of sums, not relative to
    the mean of the two).

    Parameters
    ----------
    reference_mg_dl, sensor_mg_dl : array_like, shape (n_pairs,), mg/dL
        Pairs in which the sensor showed a number.

    Returns
    -------
    Agreement

    Raises
    ------
    InvalidInput
        As `checked_pairs`, or if there is no pair.

    Notes
    -----
    Definitions as in ISO 15197:2013 (15/15) and common practice in sensor studies (the rest).

    Examples
    --------
    >>> agreement([100, 200], [110, 180]).mard_pct
    10.0
    """
    reference, sensor = checked_pairs(reference_mg_dl, sensor_mg_dl)
    if reference.size == 0:
        raise InvalidInput("there is no pair to compare")
    difference = sensor - reference
    relative_pct = 100 * difference / reference
    return Agreement(
        n_pairs=reference.size,
        mard_pct=float(np.abs(relative_pct).mean()),
        median_ard_pct=float(np.median(np.abs(relative_pct))),
        mad_mg_dl=float(np.abs(difference).mean()),
        bias_mg_dl=float(difference.mean()),
        relative_bias_pct=float(relative_pct.mean()),
        within_15_15_pct=float(100 * within_rule(reference, sensor, 15).mean()),
        within_20_20_pct=float(100 * within_rule(reference, sensor, 20).mean()),
        within_30_30_pct=float(100 * within_rule(reference, sensor, 30).mean()),
        within_40_40_pct=float(100 * within_rule(reference, sensor, 40).mean()),
    )


def share_interval(share: float, n: float) -> tuple[float, float]:
    """Exact (Clopper-Pearson) 95 % interval of a share; it errs to the wide side.

    Assumptions: `n` independent trials. `n` need not be whole, so that pairs which resemble each other can count as
    fewer than they are.

    Parameters
    ----------
    share : float, 0 to 1
    n : float, above 0

    Returns
    -------
    pair of float, fractions

    Raises
    ------
    InvalidInput
        If `share` or `n` lies outside its range.

    References
    ----------
    Clopper CJ, Pearson ES. Biometrika 1934;26:404-413 (from memory).

    Examples
    --------
    >>> [round(end, 4) for end in share_interval(18 / 20, 20)]
    [0.683, 0.9877]
    """
    if not (0 <= share <= 1 and n > 0):
        raise InvalidInput("a share lies between 0 and 1, and is one of more than no trial")
    tail, k = (1 - CONFIDENCE) / 2, share * n
    low = 0.0 if share == 0 else float(special.betaincinv(k, n - k + 1, tail))
    high = 1.0 if share == 1 else float(special.betaincinv(k + 1, n - k, 1 - tail))
    return low, high


def wilson_interval(k: int, n: int) -> tuple[float, float]:
    """Wilson 95 % interval of k in n: close to its level for counts, also small ones.

    Assumptions: n independent trials.

    Parameters
    ----------
    k, n : int, 0 <= k <= n, n above 0

    Returns
    -------
    pair of float, fractions

    Raises
    ------
    InvalidInput
        If the counts lie outside their ranges.

    References
    ----------
    Wilson EB. J Am Stat Assoc 1927;22:209-212 (from memory).

    Examples
    --------
    >>> [round(end, 4) for end in wilson_interval(18, 20)]
    [0.699, 0.9721]
    """
    if not 0 <= k <= n or n < 1:
        raise InvalidInput("counts must be 0 <= k <= n, and n at least 1")
    share, z_square = k / n, float(special.ndtri((1 + CONFIDENCE) / 2)) ** 2
    centre = share + z_square / (2 * n)
    half = math.sqrt(z_square * (share * (1 - share) / n + z_square / (4 * n**2)))
    low, high = (end / (1 + z_square / n) for end in (centre - half, centre + half))
    return (0.0 if k == 0 else low), (1.0 if k == n else high)
