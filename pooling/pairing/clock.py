"""How far the meter's clock runs ahead of the sensor's: estimated, shown, and never applied unasked."""

from typing import Literal

import numpy as np
from msgspec import Struct

from pooling.pairing.readings import Flags, Floats, Ints, Readings

FEWEST_FINGERSTICKS = 12
WIDEST_SHIFT_MIN = 14 * 60
"""Time zones and a meter that was never set lie within; beyond, one day looks like the next."""
_COARSE_MIN, _FINE_WITHIN_MIN = 6, 24
"""Looked at every six minutes first, since glucose moves little in three, and every minute about the best."""
LAG_MIN, LAG_SD_MIN = 4.5, 4.8
"""How far a sensor trails blood glucose: 4.5 min, sd 4.8 (abstract of Diabetes Technol Ther 2015;17:787, 72 people)."""
_WITHIN_95 = 3.84
"""Chi-square with one degree of freedom."""
_SURE = 16.0
"""An offset must beat agreeing clocks by this much: the best of some 1,700 shifts always looks good by chance."""
_WIDEST_UNCERTAINTY_MIN = 25.0
_WORST_SHARE = 0.55
"""At the best shift the readings must scatter by less than this share of what they do at a shift taken at random."""
_WIDEST_BRIDGE_MIN = 20
_BESIDE_FRAC = 0.6
"""Shifts that leave more fingersticks beside no reading than the others do are not looked at."""


class ClockOffset(Struct, frozen=True):
    """What the readings say of the two clocks.

    verdict
        "agree": no offset beyond `uncertainty_min`. "differs": `minutes` is to be confirmed by the person.
        "unclear": several shifts agree about as well as each other, or fingersticks are few.
    minutes
        Meter minus sensor; above zero where the meter runs ahead. None when unclear.
    uncertainty_min
        Half of a 95 % interval, the lag of sensors behind blood included. None when unclear.
    n_fingersticks
        How many had sensor readings beside them at the best shift.
    """

    verdict: Literal["agree", "differs", "unclear"]
    minutes: int | None
    uncertainty_min: int | None
    n_fingersticks: int

    def in_words(self) -> str:
        """One sentence for the person whose wear it is."""
        if self.verdict == "unclear" or self.minutes is None:
            return "The readings do not tell whether the two clocks agree; compare the clocks on the two displays."
        if self.verdict == "agree":
            return (
                f"The clocks of meter and sensor agree as far as readings can tell (within {self.uncertainty_min} min)."
            )
        side = "ahead of" if self.minutes > 0 else "behind"
        return (
            f"The meter's clock seems to be about {abs(self.minutes)} minutes {side} the sensor's "
            f"(give or take {self.uncertainty_min})."
        )


def clock_offset(trace: Readings, sticks: Readings) -> ClockOffset:
    """Estimate the offset of two clocks from how well the readings agree when one is shifted against the other.

    Claim: of all shifts in whole minutes up to 14 hours either way, the one with the smallest mean absolute deviation
    of the log ratios from their median, plus the lag of a sensor behind blood. Its range is where twice the
    log-likelihood of a Laplace law, 2 n log(deviation / smallest deviation), stays within 3.84, widened by what is not
    known about the lag.

    Assumptions: one offset for the whole wear; log ratios scatter alike all through it. A clock that was set anew in
    the middle gives "unclear" or the offset of the larger part.

    Parameters
    ----------
    trace, sticks : Readings
        Both with numbers and marks; marks are passed over.

    Returns
    -------
    ClockOffset

    Notes
    -----
    A sensor trails blood, so a meter that is a few minutes ahead and a slow sensor look alike: offsets below about ten
    minutes cannot be told. The median takes out how high or low the sensor reads, and absolute deviations keep a few
    bad readings from deciding. The thresholds are common practice, checked by simulation (docs/METHODS.md).
    """
    trace = trace.only(trace.mark == 0)
    sticks = sticks.only((sticks.mark == 0) & _within_reach(sticks, trace))
    coarse = np.arange(-WIDEST_SHIFT_MIN, WIDEST_SHIFT_MIN + 1, _COARSE_MIN)
    looked_at = _deviations(trace, sticks, coarse)
    about = coarse[np.argmin(looked_at[0])]
    near = np.arange(about - _FINE_WITHIN_MIN, about + _FINE_WITHIN_MIN + 1)
    shifts, first = np.unique(np.concatenate([coarse, near]), return_index=True)
    deviation, n_beside = (
        np.concatenate(parts)[first] for parts in zip(looked_at, _deviations(trace, sticks, near), strict=True)
    )
    best, enough = int(np.argmin(deviation)), np.isfinite(deviation)
    if not enough.any() or deviation[best] > _WORST_SHARE * np.median(deviation[enough]):
        return ClockOffset("unclear", None, None, int(n_beside[best]))
    behind = 2 * n_beside[best] * np.log(deviation / deviation[best])
    return _judged(shifts, behind, best, int(n_beside[best]))


def _within_reach(sticks: Readings, trace: Readings) -> Flags:
    """Fingersticks that some shift brings beside the trace; a meter's memory may hold months of others."""
    first, last = (int(trace.second[0]), int(trace.second[-1])) if len(trace) else (0, 0)
    return (sticks.second >= first - 60 * WIDEST_SHIFT_MIN) & (sticks.second <= last + 60 * WIDEST_SHIFT_MIN)


def _judged(shifts: Ints, behind: Floats, best: int, n_fingersticks: int) -> ClockOffset:
    """`behind`: by how much each shift is less likely than the best, as twice a log-likelihood."""
    as_good = shifts[behind <= _WITHIN_95]
    half_range = float(max(as_good[-1] - shifts[best], shifts[best] - as_good[0]))
    uncertainty = float(np.hypot(half_range, 1.96 * LAG_SD_MIN))
    offset = float(shifts[best] + LAG_MIN)
    minutes = int(np.floor(offset + 0.5))  # halves one way, so that one minute more is always told as one more
    without_offset = np.abs(shifts + LAG_MIN) <= 1.96 * LAG_SD_MIN
    if uncertainty > _WIDEST_UNCERTAINTY_MIN:
        return ClockOffset("unclear", None, None, n_fingersticks)
    if abs(offset) <= uncertainty:
        return ClockOffset("agree", minutes, round(uncertainty), n_fingersticks)
    if behind[without_offset].min() < _SURE:
        return ClockOffset("unclear", None, None, n_fingersticks)
    return ClockOffset("differs", minutes, round(uncertainty), n_fingersticks)


def _deviations(trace: Readings, sticks: Readings, shifts: Ints) -> tuple[Floats, Ints]:
    """Mean absolute deviation of log ratios from their median, and fingersticks beside the trace, at each shift.

    Infinite where too few fingersticks have readings beside them.
    """
    nothing = np.full(shifts.size, np.inf), np.zeros(shifts.size, dtype=np.int64)
    if len(trace) < 2 or not len(sticks):
        return nothing
    at = sticks.second[:, None] - 60 * shifts[None, :]
    after = np.clip(np.searchsorted(trace.second, at, side="left"), 1, len(trace) - 1)
    left, right = trace.second[after - 1], trace.second[after]
    beside = (at >= left) & (at <= right) & (right - left <= 60 * _WIDEST_BRIDGE_MIN)
    log_trace = np.log(trace.mg_dl)
    share = (at - left) / np.maximum(right - left, 1)
    shown = log_trace[after - 1] * (1 - share) + log_trace[after] * share
    ratio = np.sort(np.where(beside, np.log(sticks.mg_dl)[:, None] - shown, np.nan).T, axis=1)  # NaN last
    n_beside = beside.sum(axis=0)
    middle = np.take_along_axis(ratio, np.maximum(n_beside - 1, 0)[:, None] // 2, axis=1)
    deviation = np.nansum(np.abs(ratio - middle), axis=1) / np.maximum(n_beside, 1)
    enough = n_beside >= max(FEWEST_FINGERSTICKS, _BESIDE_FRAC * n_beside.max())
    return np.where(enough, np.maximum(deviation, 1e-6), np.inf), n_beside
