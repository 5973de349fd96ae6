"""In life's own units: what the sensor mostly showed at a fingerstick, and the fingerstick at what the sensor says."""

import numpy as np
from numpy.typing import NDArray
from scipy import special

from pooling.checks import FEWEST_PAIRS
from pooling.units import MG_DL, MMOL_L, to_mg_dl

Floats = NDArray[np.float64]

SHOWN_SHARE = 0.8
NEAR, FEWEST_NEAR = 4 / 3, 3
LEVELS = {MG_DL: (70.0, 100.0, 180.0), MMOL_L: (3.9, 5.6, 10.0)}
"""Both ends of the consensus range and fasting glucose, as agreed in each unit (Diabetes Care 2019;42:1593)."""


def mostly(given: Floats, wanted: Floats, level: float) -> tuple[float, float] | None:
    """Where four in five further values of one instrument lie beside a value of the other.

    Assumptions: logarithms of the two lie about a straight line with one spread throughout, roughly normal, and the
    next pairs come from the life these came from. The straight line matters when the sensor is given: a sensor that
    says 70 is often one that reads low, so the fingerstick lies nearer to its usual values than plain ratios say.

    Parameters
    ----------
    given, wanted : ndarray, shape (n_pairs,), above 0, any one unit
    level : float
        Value of `given` to look at.

    Returns
    -------
    pair of float, or None
        None below eight pairs, where no pair lies on both sides of the level, or where fewer than three lie within a
        third of it: it would be a guess.

    Notes
    -----
    Prediction interval of a regression (any textbook of regression), on logarithms.

    Examples
    --------
    >>> given = np.array([60.0, 80, 100, 120, 150, 180, 200, 240])
    >>> [round(end) for end in mostly(given, 1.1 * given, 100)]
    [110, 110]
    >>> mostly(given, given, 300) is None
    True
    """
    if given.size < FEWEST_PAIRS or not given.min() < level < given.max() or _n_near(given, level) < FEWEST_NEAR:
        return None
    x, y = np.log(given), np.log(wanted)
    u = x - x.mean()
    n, sxx = x.size, float(u @ u)
    slope = float(u @ y) / sxx
    rest = y - y.mean() - slope * u
    away = np.log(level) - x.mean()
    centre = y.mean() + slope * away
    spread = np.sqrt(float(rest @ rest) / (n - 2) * (1 + 1 / n + away**2 / sxx))
    half = float(special.stdtrit(n - 2, 0.5 + SHOWN_SHARE / 2)) * spread
    return float(np.exp(centre - half)), float(np.exp(centre + half))


def _n_near(given: Floats, level: float) -> int:
    return int((np.abs(np.log(given / level)) <= np.log(NEAR)).sum())


def levels(reference_mg_dl: Floats, sensor_mg_dl: Floats) -> dict[str, list[dict[str, float | str]]]:
    """`mostly` at each level of either unit, both ways round; levels without an answer are left out.

    Returns
    -------
    dict
        "shows": what the sensor shows at a fingerstick; "means": what the fingerstick is at a sensor reading. Each
        entry has the unit whose level it is, and mg/dL.
    """
    return {
        "shows": _entries("reference_mg_dl", reference_mg_dl, sensor_mg_dl),
        "means": _entries("sensor_mg_dl", sensor_mg_dl, reference_mg_dl),
    }


def _entries(name: str, given: Floats, wanted: Floats) -> list[dict[str, float | str]]:
    found: list[dict[str, float | str]] = []
    for unit, figures in LEVELS.items():
        for level in to_mg_dl(figures, unit).tolist():
            if (ends := mostly(given, wanted, level)) is not None:
                low, high = (round(end, 1) for end in ends)
                found.append({"unit": unit, name: round(level, 2), "from_mg_dl": low, "to_mg_dl": high})
    return found
