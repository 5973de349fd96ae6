"""WearSummary: the fixed-size statistics of one wear, which is all of its readings that the pool ever adds up."""

import math
from itertools import pairwise
from typing import Literal, Protocol, TypedDict, TypeVar

import msgspec
import numpy as np
from msgspec import Struct

from pooling.columns import NO_RATE, Ints, PairColumns, columns_from
from pooling.crossing import PARTITIONS, Crossed, added, cell_of, crossed
from pooling.errorgrids import consensus_counts
from pooling.errors import InvalidInput
from pooling.quiet import Quiet
from pooling.record import WearRecord
from pooling.stratum import Masks, Stratum, errors_of, joined, strata_of
from pooling.units import HIGH_ABOVE, LOW_BELOW
from pooling.vocabulary import MARKS, PROMPTS

SUMMARY_VERSION: Literal[1] = 1
DAY_1_END_MIN = 1_440
WEEK_1_END_MIN = 10_080
STRATA = ("all", "scheduled", "doubt", *PARTITIONS["phase"], *PARTITIONS["range"])


class SummaryRules(Struct, frozen=True, gc=False):
    """What a protocol asks of a pair before it counts. A rule is broken only by a known value, never a missing one."""

    version: int
    widest_gap_min: int | None = None
    highest_rate_mg_dl_min: float | None = None
    first_day: Literal["keep", "leave_out"] = "keep"


class RatingsGiven(Quiet, frozen=True, gc=False):
    """0 worst to 10 best; None where nobody was asked."""

    ease: int | None = None
    comfort: int | None = None
    discretion: int | None = None


class RatingsLike(Protocol):
    @property
    def ease(self) -> int | None: ...
    @property
    def comfort(self) -> int | None: ...
    @property
    def discretion(self) -> int | None: ...


class WearSummary(Quiet, frozen=True, kw_only=True, gc=False):
    """One wear in fixed size. Pairs that calibrated the sensor, or break a rule, are in none of its figures."""

    version: Literal[1] = SUMMARY_VERSION
    rules: SummaryRules
    strata: dict[str, Stratum]
    zones: tuple[int, int, int, int, int]  # consensus grid (type 1), A to E
    both_low: int  # reference and sensor low; marked readings count in these four
    missed_low: int  # reference low, sensor not
    false_low: int  # sensor low, reference not
    neither: int
    crossed: dict[int, Crossed]  # by the number of the cell
    worn_min: int
    worn_days_by_phase: tuple[float, float, float]  # day 1 is 0 where the rules leave it out
    end_reason: str
    skin_grade: int | None
    ratings: RatingsGiven
    part: bool = False


class Whole(TypedDict):
    """Of all strata, the one of all pairs."""

    all: Stratum


class Sealable(Quiet, frozen=True, kw_only=True, gc=False):
    """As much of a summary as sealing reads: a cut-off reads many, and passes over the rest of their bytes."""

    version: Literal[1]
    strata: Whole
    zones: tuple[int, int, int, int, int]
    crossed: dict[int, Crossed]
    worn_min: int
    end_reason: str
    skin_grade: int | None
    ratings: RatingsGiven


def summarise(
    columns: PairColumns,
    *,
    worn_min: int,
    end_reason: str,
    skin_grade: int | None,
    ratings: RatingsLike | None,
    rules: SummaryRules,
    part_from_min: int | None = None,
) -> WearSummary:
    """Reduce the pairs of one wear to its summary.

    Assumptions: elapsed minutes are those at rest (rounded down to five). Day 1 is below 1440 minutes, the first week
    below 10080. A reference is low below 70 mg/dL or 3.9 mmol/L and high above 180 or 10.0, in the unit it was typed
    in. Marked readings count only for lows.

    Parameters
    ----------
    columns : PairColumns
    worn_min : int
        Minutes from insertion to the end of the wear (or of this part).
    end_reason : str
    skin_grade : int from 0 to 4, or None if not asked
    ratings : anything with ease, comfort and discretion, or None if not asked
    rules : SummaryRules
    part_from_min : int or None
        Give it to summarise a part of a wear, from this minute to `worn_min`, and `merge` it later. A part holds its
        first and last reading.

    Returns
    -------
    WearSummary

    Raises
    ------
    InvalidInput
        If a pair lies outside the wear or the part.
    """
    from_min = part_from_min or 0
    if columns.n_pairs and not (from_min - 5 < columns.elapsed_min.min() and columns.elapsed_min.max() <= worn_min):
        raise InvalidInput("a pair lies outside the wear; correct its minutes or those of the wear")
    columns = columns.only(_counted(columns, rules))
    is_numbered = columns.mark == 0
    numbered = columns.only(is_numbered)
    member = membership(columns)
    errors = errors_of(numbered.reference_mg_dl, numbered.sensor_mg_dl)
    shown_low = _shown_low(columns)
    both_low, missed_low, false_low, neither = _low_counts(member[STRATA.index("reference_low")], shown_low)
    strata = strata_of(
        errors, member if numbered is columns else membership(numbered), keep_ends=part_from_min is not None
    )
    return WearSummary(
        rules=rules,
        strata=dict(zip(STRATA, strata, strict=True)),
        zones=consensus_counts(numbered.reference_mg_dl, numbered.sensor_mg_dl),
        both_low=both_low,
        missed_low=missed_low,
        false_low=false_low,
        neither=neither,
        crossed=crossed(errors, numbered=is_numbered, cell=_cells(member), shown_low=shown_low),
        worn_min=worn_min - from_min,
        worn_days_by_phase=_days_by_phase(from_min, worn_min, rules),
        end_reason=end_reason,
        skin_grade=skin_grade,
        ratings=RatingsGiven() if ratings is None else RatingsGiven(ratings.ease, ratings.comfort, ratings.discretion),
        part=part_from_min is not None,
    )


def summarise_record(record: WearRecord, *, rules: SummaryRules) -> WearSummary:
    """As `summarise`, with everything taken from the record."""
    return summarise(
        columns_from(record),
        worn_min=record.worn_min,
        end_reason=record.end_reason,
        skin_grade=None if record.skin is None else record.skin.grade,
        ratings=record.ratings,
        rules=rules,
    )


def _counted(columns: PairColumns, rules: SummaryRules) -> Masks:
    counted = columns.prompt != PROMPTS.index("calibration")
    if rules.widest_gap_min is not None:
        counted &= columns.gap_min <= rules.widest_gap_min  # an unknown gap is -1
    if rules.highest_rate_mg_dl_min is not None:
        known = columns.rate_hundredths != NO_RATE
        too_fast = np.abs(columns.rate_hundredths.astype(np.int32)) > round(100 * rules.highest_rate_mg_dl_min)
        counted &= ~(known & too_fast)
    if rules.first_day == "leave_out":
        counted &= columns.elapsed_min >= DAY_1_END_MIN
    return counted


def _is_low(hundredths: Ints, unit: str) -> Masks:
    return hundredths < round(100 * LOW_BELOW[unit])


def membership(columns: PairColumns) -> Masks:
    """Which pair belongs to which stratum; shape (strata, n_pairs), rows as `STRATA`."""
    minute, reference = columns.elapsed_min, columns.reference_hundredths
    low = _is_low(reference, columns.glucose_unit)
    high = reference > round(100 * HIGH_ABOVE[columns.glucose_unit])
    return np.stack(
        [
            np.ones(columns.n_pairs, dtype=np.bool_),
            columns.prompt == PROMPTS.index("scheduled"),
            columns.prompt == PROMPTS.index("doubt"),
            minute < DAY_1_END_MIN,
            (minute >= DAY_1_END_MIN) & (minute < WEEK_1_END_MIN),
            minute >= WEEK_1_END_MIN,
            low,
            ~low & ~high,
            high,
        ]
    )


def _shown_low(columns: PairColumns) -> Masks:
    low = (columns.mark == 0) & _is_low(columns.sensor_hundredths, columns.glucose_unit)
    return low | (columns.mark == 1 + MARKS.index("below"))


def _cells(member: Masks) -> Ints:
    """The cell of each pair, from the strata that it is in."""
    strata = dict(zip(STRATA, member, strict=True))
    phase = strata["days2_7"] + 2 * strata["day8_on"]
    reference_range = strata["reference_mid"] + 2 * strata["reference_high"]
    return cell_of(phase, reference_range, 2 - 2 * strata["scheduled"] - strata["doubt"])


def _low_counts(reference_low: Masks, sensor_low: Masks) -> tuple[int, int, int, int]:
    """Both low, only the reference, only the sensor, neither."""
    both = int(np.count_nonzero(reference_low & sensor_low))
    missed, false = (int(np.count_nonzero(low)) - both for low in (reference_low, sensor_low))
    return both, missed, false, reference_low.size - both - missed - false


def _days_by_phase(from_min: int, to_min: int, rules: SummaryRules) -> tuple[float, float, float]:
    edges = (0, DAY_1_END_MIN, WEEK_1_END_MIN, math.inf)
    day_1, week_1, later = (
        max(0.0, min(to_min, end) - max(from_min, start)) / DAY_1_END_MIN for start, end in pairwise(edges)
    )
    return (0.0 if rules.first_day == "leave_out" else day_1, week_1, later)


# ---- parts -----------------------------------------------------------------------------------------------------------


def merge(a: WearSummary, b: WearSummary) -> WearSummary:
    """Join two parts of one wear, `a` the earlier; exact up to rounding.

    How the wear ended and how the skin took it come from the later part that says so.

    Raises
    ------
    InvalidInput
        If one of them is finished, or they were made under different rules.
    """
    if not (a.part and b.part):
        raise InvalidInput("only parts can be joined; a finished summary has let go of its first and last reading")
    if a.rules != b.rules:
        raise InvalidInput("parts made under different rules cannot be joined")
    worn_1, worn_2, worn_3 = (x + y for x, y in zip(a.worn_days_by_phase, b.worn_days_by_phase, strict=True))
    zone_a, zone_b, zone_c, zone_d, zone_e = (x + y for x, y in zip(a.zones, b.zones, strict=True))
    return WearSummary(
        rules=a.rules,
        strata={name: joined(a.strata[name], b.strata[name]) for name in STRATA},
        zones=(zone_a, zone_b, zone_c, zone_d, zone_e),
        both_low=a.both_low + b.both_low,
        missed_low=a.missed_low + b.missed_low,
        false_low=a.false_low + b.false_low,
        neither=a.neither + b.neither,
        crossed=added(a.crossed, b.crossed),
        worn_min=a.worn_min + b.worn_min,
        worn_days_by_phase=(worn_1, worn_2, worn_3),
        end_reason=b.end_reason,
        skin_grade=a.skin_grade if b.skin_grade is None else b.skin_grade,
        ratings=a.ratings if b.ratings == RatingsGiven() else b.ratings,
        part=True,
    )


def finish(summary: WearSummary) -> WearSummary:
    """A summary without the first and last readings that only joining needs."""
    strata = {name: msgspec.structs.replace(stratum, ends=None) for name, stratum in summary.strata.items()}
    return msgspec.structs.replace(summary, strata=strata, part=False)


# ---- bytes -----------------------------------------------------------------------------------------------------------


def to_bytes(summary: WearSummary) -> bytes:
    """The summary as MessagePack."""
    return msgspec.msgpack.encode(summary)


def from_bytes(payload: bytes) -> WearSummary:
    """The summary that `to_bytes` wrote.

    Raises
    ------
    InvalidInput
        If the bytes are no summary of a version that can be read.
    """
    summary = _decoded(_WHOLE, payload)
    if tuple(summary.strata) != STRATA:
        raise InvalidInput("this wear summary does not have the strata of its version")
    return summary


def sealable(payload: bytes) -> Sealable:
    """What sealing reads of the summary that `to_bytes` wrote; errors as `from_bytes`."""
    return _decoded(_SEALABLE, payload)


_Read = TypeVar("_Read")
_WHOLE, _SEALABLE = msgspec.msgpack.Decoder(WearSummary), msgspec.msgpack.Decoder(Sealable)


def _decoded(decoder: msgspec.msgpack.Decoder[_Read], payload: bytes) -> _Read:
    try:
        return decoder.decode(payload)
    except msgspec.MsgspecError as error:
        raise InvalidInput("these bytes are no wear summary of a version that can be read") from error
