"""How much a fair test can show: the margin of one person's own difference between two sites.

Claim: with n fingersticks a wear and w wears a site, the difference of the mean MARDs at two sites has the variance
2 (t² + v/n) / w about what this person would see over many wears. t is the standard deviation between one person's
wears at one site, v the variance of a single pair's absolute relative difference. Assumptions: both are known, readings
are independent, the mean over many pairs is normal. What is the sensor's and the person's own at a site is no error
here: it is what the test is about.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from scipy.special import ndtri

from pooling.sealing.version import SEAL_VERSION_1

VARIANCE_RATIO = SEAL_VERSION_1.channels["direct"].noise / SEAL_VERSION_1.channels["direct"].reference ** 2
"""Variance of a pair's ARD over the square of MARD. Normal errors would give (0.6028 / 0.7979)² = 0.57; tails add."""
ENOUGH = 0.1
"""Fingersticks are enough where twice as many would narrow the margin by less than this part."""
_SEEN_Z = float(ndtri(0.975) + ndtri(0.8))


@dataclass(frozen=True, slots=True)
class WearSpread:
    """Spreads in points of MARD, and whether an edition tells them."""

    between_wears_points: float
    between_pairs_points: float
    basis: Literal["edition", "starter"]


@dataclass(frozen=True, slots=True)
class Precision:
    """What so many fingersticks and wears can show, in points of MARD.

    `margin_points` is half the 95 % interval of the difference between two sites; a true difference of `seen_points`
    would be told from none 4 times of 5 (two-sided, 5 %).
    """

    margin_points: float
    seen_points: float


def wear_spread(document: Mapping[str, Any] | None) -> WearSpread:
    """From an edition's model block, or from what seal version 1 assumes.

    The spread between pairs follows from the people-weighted MARD of its rows.
    """
    told = ((document or {}).get("model") or {}).get("spreads", {}).get("direct", {}).get("wear")
    rows = ((document or {}).get("tables") or {}).get("sites", [])
    if told is None or not rows:
        constants = SEAL_VERSION_1.channels["direct"]
        return WearSpread(100 * constants.wear_sd, 100 * math.sqrt(constants.noise), "starter")
    people = sum(row["people"]["at_least"] for row in rows)
    mard_pct = sum(row["people"]["at_least"] * row["mard_pct"]["value"] for row in rows) / people
    return WearSpread(100 * told["value"], math.sqrt(VARIANCE_RATIO) * mard_pct, "edition")


def difference_sd_points(spread: WearSpread, *, pairs_per_wear: int, wears_per_site: int) -> float:
    """Standard deviation of the own difference between two sites.

    Examples
    --------
    >>> round(difference_sd_points(WearSpread(2.0, 9.0, "starter"), pairs_per_wear=20, wears_per_site=2), 2)
    2.84
    """
    one_wear = spread.between_wears_points**2 + spread.between_pairs_points**2 / pairs_per_wear
    return math.sqrt(2 * one_wear / wears_per_site)


def precision(spread: WearSpread, *, pairs_per_wear: int, wears_per_site: int) -> Precision:
    """Margin and smallest difference that is seen 4 times of 5."""
    sd = difference_sd_points(spread, pairs_per_wear=pairs_per_wear, wears_per_site=wears_per_site)
    return Precision(margin_points=float(ndtri(0.975)) * sd, seen_points=_SEEN_Z * sd)


def enough_pairs(spread: WearSpread) -> int:
    """From how many fingersticks a wear on twice as many narrow the margin by less than a tenth.

    Notes
    -----
    sqrt((t² + v/2n) / (t² + v/n)) >= 1 - ENOUGH, solved for n; the number of wears cancels.

    Examples
    --------
    >>> enough_pairs(WearSpread(2.0, 9.0, "starter"))
    34
    """
    kept = (1 - ENOUGH) ** 2
    if spread.between_wears_points == 0:
        return 200
    pairs = spread.between_pairs_points**2 * (kept - 0.5) / ((1 - kept) * spread.between_wears_points**2)
    return min(max(math.ceil(pairs - 1e-9), 8), 200)
