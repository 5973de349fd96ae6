"""Findings about the course of a wear: glucose that moves faster than it can, and short lows under pressure."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from pooling.checks.finding import FEWEST_PAIRS, Finding, WearFacts, in_both
from pooling.columns import ELAPSED_STEP_MIN, NO_RATE, PairColumns
from pooling.vocabulary import counted

FASTEST_MG_DL_MIN = 8.0
"""Blood glucose seldom moves faster than 4 or 5 mg/dL a minute (common practice, no source)."""
FASTEST_BETWEEN_STICKS_MG_DL_MIN = 5.0
CLOSE_MIN = 30
METER_PCT = 25.0
"""Two fingersticks of one moment may lie so far apart: 15 % either way, and a little more for chance."""

LOW_MG_DL, NOT_LOW_MG_DL = 70.0, 80.0
FAR_BELOW_SDS, FAR_BELOW_LOG = 6.0, 0.5
NEAR_SDS = 2.5
NEIGHBOUR_WITHIN_MIN = 1_440


def impossible_rates(columns: PairColumns, wear: WearFacts) -> Iterator[Finding]:  # noqa: ARG001
    """Rates of change, or neighbouring fingersticks, that no body could follow."""
    rate = columns.rate_hundredths
    n_fast = int(np.sum((rate != NO_RATE) & (np.abs(rate.astype(np.int64)) > 100 * FASTEST_MG_DL_MIN)))
    n_jumps = int(np.sum(_jumps(columns)))
    if not n_fast + n_jumps:
        return
    parts = [f"{counted(n_fast, 'rate')} of change beyond {in_both(FASTEST_MG_DL_MIN)} a minute"] if n_fast else []
    parts += [f"{counted(n_jumps, 'jump')} between fingersticks less than half an hour apart"] if n_jumps else []
    yield Finding(
        "impossible_rates",
        "look",
        f"{' and '.join(parts)}.",
        "Glucose does not move so fast; a reading, its time or its unit is probably wrong.",
        "Check the rows around fast changes, and whether hands were clean before the fingerstick.",
    )


def _jumps(columns: PairColumns) -> NDArray[np.bool_]:
    """Neighbouring fingersticks further apart than their time and the meter's error allow.

    Elapsed minutes are rounded down to five, so the time between may have been five minutes longer.
    """
    reference = columns.reference_mg_dl
    between_min = columns.elapsed_min[1:] - columns.elapsed_min[:-1] + ELAPSED_STEP_MIN
    allowed = (
        METER_PCT / 100 * np.maximum(reference[1:], reference[:-1]) + FASTEST_BETWEEN_STICKS_MG_DL_MIN * between_min
    )
    return (between_min <= CLOSE_MIN) & (np.abs(reference[1:] - reference[:-1]) > allowed)


def pressure_lows(columns: PairColumns, wear: WearFacts) -> Iterator[Finding]:  # noqa: ARG001
    """A sensor that was low when the fingerstick was not, far off its own habit, and right again on either side.

    Assumption: the wear's own median and spread are its habit. Clock times are never known, so that a low of the night
    cannot be told from one of the day.
    """
    if columns.n_pairs < FEWEST_PAIRS:
        return
    reference = columns.reference_mg_dl
    sensor = np.where(columns.mark == 1, 1.0, columns.sensor_mg_dl)  # below range: as low as can be
    ratio = np.log(sensor / reference)
    habit = _middle(ratio)
    off = ratio - habit
    spread = 1.4826 * _middle(np.abs(off))
    low = (sensor < LOW_MG_DL) & (reference >= NOT_LOW_MG_DL) & (off < -max(FAR_BELOW_SDS * spread, FAR_BELOW_LOG))
    n_lows = int(np.sum(low[1:-1] & _right_on_both_sides(columns, np.abs(off) <= NEAR_SDS * spread)))
    if n_lows:
        yield Finding(
            "pressure_lows",
            "note",
            f"{counted(n_lows, 'pair')} with the sensor far too low, and right again before and after.",
            "Lying on a sensor can press it into a short false low that has nothing to do with the site's accuracy.",
            'If you lay on it then, add the event "it was lain on" at that time; otherwise nothing needs doing.',
        )


def _middle(values: NDArray[np.float64]) -> float:
    """The median of what is a number; `numpy.nanmedian` takes ten times as long for few values."""
    ordered = np.sort(values[~np.isnan(values)])
    if not ordered.size:
        return np.nan
    return float(ordered[(ordered.size - 1) // 2] + ordered[ordered.size // 2]) / 2


def _right_on_both_sides(columns: PairColumns, right: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """For every inner pair whether both neighbours are within a day and as usual."""
    near = np.diff(columns.elapsed_min) <= NEIGHBOUR_WITHIN_MIN
    return right[:-2] & right[2:] & near[:-1] & near[1:]
