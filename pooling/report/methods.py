"""Sensor and meter as two methods of measurement: limits of agreement by day, and two straight lines."""

from dataclasses import asdict
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pooling.columns import PairColumns
from pooling.comparison import Line, bland_altman, deming, passing_bablok
from pooling.errors import InvalidInput
from pooling.summary import DAY_1_END_MIN

FEWEST_FOR_LIMITS, FEWEST_DAYS_FOR_LIMITS = 20, 5
FEWEST_FOR_LINES = 40
"""Common practice: 20 pairs and some days for limits that are not all margin, 40 pairs for a line."""


def limits(pairs: PairColumns) -> dict[str, Any] | None:
    """Limits of agreement, sensor minus fingerstick, in mg/dL and (by logarithms) in per cent; None for too few pairs.

    Pairs of one day are taken as repeated measurements under that day's conditions.
    """
    day = pairs.elapsed_min // DAY_1_END_MIN
    n_days = np.unique(day).size
    if pairs.n_pairs < FEWEST_FOR_LIMITS or n_days < FEWEST_DAYS_FOR_LIMITS:
        return None
    person = day if n_days < pairs.n_pairs else None
    plain = asdict(bland_altman(pairs.sensor_mg_dl, pairs.reference_mg_dl, person))
    of_logs = asdict(bland_altman(np.log(pairs.sensor_mg_dl), np.log(pairs.reference_mg_dl), person))
    del of_logs["sd"]
    return {
        "n_pairs": pairs.n_pairs,
        "n_days": int(n_days),
        "mg_dl": {name: _rounded(value) for name, value in plain.items()},
        "pct": {name: _rounded(100 * np.expm1(value)) for name, value in of_logs.items()},
    }


def lines(pairs: PairColumns) -> dict[str, Any] | None:
    """Deming (errors of both taken as equal) and Passing-Bablok, sensor on fingerstick; None for too few pairs.

    A line that the pairs do not give is None.
    """
    if pairs.n_pairs < FEWEST_FOR_LINES:
        return None
    return {"n_pairs": pairs.n_pairs, "deming": _line(deming, pairs), "passing_bablok": _line(passing_bablok, pairs)}


def _line(fit: Any, pairs: PairColumns) -> dict[str, Any] | None:
    try:
        found: Line = fit(pairs.reference_mg_dl, pairs.sensor_mg_dl)
    except InvalidInput:
        return None
    return {
        "slope": round(found.slope, 3),
        "slope_ci": np.round(found.slope_ci, 3).tolist(),
        "intercept_mg_dl": round(found.intercept, 1),
        "intercept_ci_mg_dl": np.round(found.intercept_ci, 1).tolist(),
    }


def _rounded(value: float | tuple[float, float] | NDArray[np.float64]) -> Any:
    return np.round(value, 1).tolist()
