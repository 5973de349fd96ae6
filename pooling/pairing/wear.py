"""The pairs of one wear from a sensor's trace and a meter's fingersticks, and why the others stay alone."""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pooling.errors import InvalidInput
from pooling.importing.types import Series
from pooling.pairing.clock import ClockOffset, clock_offset
from pooling.pairing.matching import Match, around, nearest
from pooling.pairing.rate import rates
from pooling.pairing.readings import (
    Floats,
    Ints,
    Readings,
    plausible,
    readings_of,
    repeats_the_row_before,
    shares_the_second_before,
    shown_in,
)
from pooling.pairing.rules import REASONS, PairingRules
from pooling.record import LONGEST_WEAR_MIN, Pair
from pooling.units import MG_DL
from pooling.vocabulary import MARKS, Prompt

REPLICATE_WITHIN_S = 120
WIDEST_BRIDGE_S = 20 * 60
"""Never interpolate over more: a reading is missing in between."""
_SECOND = np.timedelta64(1, "s")


@dataclass(frozen=True, slots=True)
class Unmatched:
    """A fingerstick in no pair: its line in the meter's file and its reason, one of `REASONS`."""

    line: int
    reason: str


@dataclass(frozen=True, slots=True)
class TraceFacts:
    """What the trace was like, without a reading of it."""

    n_readings: int
    n_impossible: int
    spacing_min: float


@dataclass(frozen=True, slots=True, repr=False)
class Pairing:
    """Pairs in order of time, fingersticks without one in order of line, and how it was done.

    method : "nearest" or "interpolated"
    rate_from : whether rates of change rest on readings "around" the fingerstick or only from "before" it
    offset : what the readings say of the clocks as exported, whatever offset was applied
    applied_offset_min : minutes taken off the meter's clock
    n_replicates : pairs with a second strip
    """

    pairs: tuple[Pair, ...]
    unmatched: tuple[Unmatched, ...]
    offset: ClockOffset | None
    n_replicates: int
    method: Literal["nearest", "interpolated"]
    rate_from: Literal["around", "before"]
    applied_offset_min: float
    trace: TraceFacts

    def __repr__(self) -> str:
        return f"Pairing({len(self.pairs)} pairs, {len(self.unmatched)} unmatched, {self.method})"


def pair(
    sensor: Series,
    meter: Series,
    *,
    inserted: np.datetime64,
    ended: np.datetime64,
    rules: PairingRules | None = None,
    offset_min: float = 0.0,
    glucose_unit: str = MG_DL,
    prompt: Prompt = "other",
) -> Pairing:
    """Put each fingerstick of a wear with the sensor reading beside it.

    Claim: the closest pairs first, ties to the earlier; no sensor reading stands behind two pairs. A second strip
    within two minutes is kept as the replicate of the first. Every other fingerstick gets its reason. The order of
    rows in either file decides nothing, nor does moving all times by the same amount.

    Assumptions: `inserted` and `ended` are on the sensor's clock. Sensor readings outside the wear, and numbers that no
    record may hold, are no readings.

    Parameters
    ----------
    sensor, meter : Series
        Times and mg/dL; marks where an instrument was out of range.
    inserted, ended : datetime64
        Of the wear; at most thirty days apart.
    rules : PairingRules, optional
    offset_min : float
        By how many minutes the meter's clock is ahead, once the person has confirmed it.
    glucose_unit : {"mg/dL", "mmol/L"}
        Unit of the record.
    prompt
        Why the fingersticks were taken, as far as one word can say it for all.

    Returns
    -------
    Pairing

    Raises
    ------
    InvalidInput
        For an end before the insertion, a wear of more than thirty days, an unknown unit, or rules that `checked`
        refuses.

    Notes
    -----
    Five minutes, nearest reading, each used once: common practice in sensor studies, no source. Interpolation is for
    traces stored so coarsely (every 15 minutes) that the nearest reading would leave a third of fingersticks alone.
    """
    rules = (rules or PairingRules()).checked()
    worn_s = _worn_s(inserted, ended)
    whole_trace = readings_of(sensor, start=inserted)
    trace = _trace_of(whole_trace, worn_s, glucose_unit)
    raw = readings_of(meter, start=inserted)
    sticks = replace(raw, second=raw.second - round(60 * offset_min))
    reasons = _standing_reasons(sticks, worn_s, glucose_unit)
    strips, replicate_of = _strips(sticks, reasons)
    interpolate = _interpolates(rules, trace)
    first_strips = sticks.only(strips)
    match = (
        around(first_strips, trace, widest_s=WIDEST_BRIDGE_S)
        if interpolate
        else nearest(first_strips, trace, tolerance_s=60 * rules.tolerance_min, before_only=rules.before_only)
    )
    mark, value = _beside(first_strips, trace, match)
    paired = match.found & (mark >= 0)
    _say_why(reasons, strips, match, mark, replicate_of)
    pairs = _pairs(
        first_strips.only(paired),
        sensor_mg_dl=value[paired],
        mark=mark[paired],
        gap_s=_gap_s(first_strips, trace, match)[paired],
        rate=rates(first_strips.second[paired], trace, before_only=rules.before_only),
        replicate_mg_dl=_replicates(sticks, strips, replicate_of)[paired],
        unit=glucose_unit,
        prompt=prompt,
    )
    return Pairing(
        pairs=pairs,
        unmatched=_alone(sticks, reasons),
        offset=clock_offset(trace, raw.only(plausible(raw, glucose_unit))) if len(raw) and len(trace) else None,
        n_replicates=sum(each.replicate is not None for each in pairs),
        method="interpolated" if interpolate else "nearest",
        rate_from="before" if rules.before_only else "around",
        applied_offset_min=offset_min,
        trace=TraceFacts(len(trace), int(np.sum(~plausible(whole_trace, glucose_unit))), trace.spacing_min),
    )


def _worn_s(inserted: np.datetime64, ended: np.datetime64) -> int:
    worn_s = int((ended - inserted) // _SECOND)
    if not 60 <= worn_s <= 60 * LONGEST_WEAR_MIN:
        raise InvalidInput(
            "a wear ends after its insertion, and at most thirty days later; correct one of the two times"
        )
    return worn_s


def _trace_of(trace: Readings, worn_s: int, unit: str) -> Readings:
    inside = (trace.second >= 0) & (trace.second <= worn_s)
    kept = trace.only(inside & plausible(trace, unit))
    return kept.only(~shares_the_second_before(kept))


def _standing_reasons(sticks: Readings, worn_s: int, unit: str) -> NDArray[np.object_]:
    """For each fingerstick why it cannot be in any pair, empty where nothing stands against it."""
    reasons = np.select(
        [
            repeats_the_row_before(sticks),
            sticks.mark != 0,
            ~plausible(sticks, unit),
            sticks.second < 0,
            sticks.second > worn_s,
        ],
        ["repeated_row", "meter_out_of_range", "impossible_reading", "before_insertion", "after_end"],
        default="",
    )
    return reasons.astype(object)


def _strips(sticks: Readings, reasons: NDArray[np.object_]) -> tuple[Ints, Ints]:
    """Places of first strips, and for each fingerstick the place of the strip that it repeats (-1: none).

    A third strip and more within the two minutes get their reason here.
    """
    usable = np.flatnonzero(reasons == "")
    second = sticks.second[usable]
    ends = np.searchsorted(second, second + REPLICATE_WITHIN_S, side="right").tolist()
    firsts, replicate_of, start = [], np.full(len(sticks), -1), 0
    while start < usable.size:
        end = ends[start]
        firsts.append(usable[start])
        replicate_of[usable[start + 1 : min(start + 2, end)]] = usable[start]
        reasons[usable[start + 2 : end]] = "further_strip"
        start = end
    return np.array(firsts, dtype=np.int64), replicate_of


def _beside(sticks: Readings, trace: Readings, match: Match) -> tuple[NDArray[np.int64], Floats]:
    """Mark and value of the sensor beside each fingerstick; mark -1 where number and mark stand on either side."""
    mark, value = np.full(len(sticks), -1), np.full(len(sticks), np.nan)
    at = match.found
    first, second = match.first[at], match.second[at]
    mark[at] = np.where(trace.mark[first] == trace.mark[second], trace.mark[first], -1)
    span = np.maximum(trace.second[second] - trace.second[first], 1)
    share = (sticks.second[at] - trace.second[first]) / span
    between = trace.mg_dl[first] * (1 - share) + trace.mg_dl[second] * share
    value[at] = np.where(first == second, trace.mg_dl[first], between)
    return mark, value


def _gap_s(sticks: Readings, trace: Readings, match: Match) -> Ints:
    """Seconds to the nearer of the readings; 0 where there is none."""
    gap, at = np.zeros(len(sticks), dtype=np.int64), match.found
    to_first = np.abs(trace.second[match.first[at]] - sticks.second[at])
    to_second = np.abs(trace.second[match.second[at]] - sticks.second[at])
    gap[at] = np.minimum(to_first, to_second)
    return gap


def _say_why(
    reasons: NDArray[np.object_], strips: Ints, match: Match, mark: NDArray[np.int64], replicate_of: Ints
) -> None:
    """Fill in the reasons that matching gives; a second strip stays alone for the reason of its first."""
    why = np.select(
        [match.found & (mark >= 0), match.found, match.had_candidate],
        ["", "sensor_out_of_range", "already_used"],
        default="no_sensor_reading",
    )
    reasons[strips] = why
    second_strips = np.flatnonzero(replicate_of >= 0)
    reasons[second_strips] = reasons[replicate_of[second_strips]]


def _replicates(sticks: Readings, strips: Ints, replicate_of: Ints) -> Floats:
    """Reading of the second strip beside each first one, NaN where there is none."""
    value = np.full(len(sticks), np.nan)
    second_strips = np.flatnonzero(replicate_of >= 0)
    value[replicate_of[second_strips]] = sticks.mg_dl[second_strips]
    return value[strips]


def _pairs(
    sticks: Readings,
    *,
    sensor_mg_dl: Floats,
    mark: NDArray[np.int64],
    gap_s: Ints,
    rate: Floats,
    replicate_mg_dl: Floats,
    unit: str,
    prompt: Prompt,
) -> tuple[Pair, ...]:
    columns = zip(
        (sticks.second // 60).tolist(),
        shown_in(sticks.mg_dl, unit).tolist(),
        shown_in(sensor_mg_dl, unit).tolist(),
        mark.tolist(),
        rate.round(2).tolist(),
        np.rint(gap_s / 60).astype(int).tolist(),
        shown_in(replicate_mg_dl, unit).tolist(),
        strict=True,
    )
    return tuple(
        Pair(
            elapsed_min=elapsed,
            reference=reference,
            prompt=prompt,
            source="trace",
            sensor=None if marked else sensor,
            sensor_mark=MARKS[marked - 1] if marked else None,
            rate_mg_dl_min=_or_none(slope),
            gap_min=gap,
            replicate=_or_none(second_strip),
        )
        for elapsed, reference, sensor, marked, slope, gap, second_strip in columns
    )


def _or_none(value: float) -> float | None:
    return None if np.isnan(value) else value


def _interpolates(rules: PairingRules, trace: Readings) -> bool:
    if rules.interpolate is not None:
        return rules.interpolate
    coarse = 2 * rules.tolerance_min < trace.spacing_min <= WIDEST_BRIDGE_S / 60
    return coarse and not rules.before_only


def _alone(sticks: Readings, reasons: NDArray[np.object_]) -> tuple[Unmatched, ...]:
    left = np.flatnonzero(reasons != "")
    assert set(reasons[left]) <= set(REASONS)
    return tuple(
        sorted((Unmatched(int(sticks.line[i]), reasons[i]) for i in left), key=lambda one: (one.line, one.reason))
    )
