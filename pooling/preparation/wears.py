"""From tables and answers to wears."""

from collections.abc import Sequence

import msgspec.structs
import numpy as np
from msgspec import Struct

from pooling.checks import Finding, find
from pooling.checks.exports import find_in_exports
from pooling.columns import columns_of
from pooling.errors import InvalidInput
from pooling.importing import Question, Series, TypedWear, read_typed
from pooling.importing.types import INSERTION
from pooling.pairing import Pairing, PairingRules, Unmatched, pair
from pooling.preparation.given import Answers, PreparedWear
from pooling.preparation.tables import Table, as_shown, moment, naming, on_one_clock, series_of, table_of
from pooling.record import Pair

SESSION_GAP = np.timedelta64(1, "h")
"""A silence of the trace after which a new sensor may have begun."""
MOST_OFFERED = 10
_MINUTE = np.timedelta64(60, "s")


class _Facts(Struct, frozen=True):
    worn_min: int
    calibrated: bool
    meter_class: str


def typed_wears(table: Table, answers: Answers) -> tuple[PreparedWear, ...]:
    """The wears of a table of typed pairs."""
    zone = table.mapping.time_zone
    told = () if answers.inserted is None else (answers.inserted, *answers.further_inserted)
    with naming(table.place):
        wears = read_typed(table.sheet, table.mapping, inserted=[moment(each, zone) for each in told])
    return tuple(_typed_wear(wear, table, answers, only=len(wears) == 1) for wear in wears)


def _typed_wear(wear: TypedWear, table: Table, answers: Answers, *, only: bool) -> PreparedWear:
    ended = wear.ended
    if ended is None and only and answers.ended is not None:
        ended = moment(answers.ended, table.mapping.time_zone)
    worn_min = answers.worn_min if only else None
    if ended is not None and wear.inserted is not None:
        worn_min = int((ended - wear.inserted) // _MINUTE)
    pairs = wear.pairs
    if answers.prompt is not None and "prompt" not in table.mapping.roles:
        pairs = tuple(msgspec.structs.replace(one, prompt=answers.prompt) for one in pairs)
    return PreparedWear(
        label=wear.label,
        site=wear.site,
        worn_min=worn_min,
        glucose_unit=str(table.mapping.glucose_unit),
        calibrated=answers.calibrated,
        meter_class=answers.meter_class,
        pairs=pairs,
        unmatched=tuple(Unmatched(line, "incomplete_row") for line in wear.left_out),
        findings=_odd_pairs(pairs, str(table.mapping.glucose_unit), worn_min, answers),
    )


def _odd_pairs(pairs: tuple[Pair, ...], unit: str, worn_min: int | None, answers: Answers) -> tuple[Finding, ...]:
    last_min = max((one.elapsed_min for one in pairs), default=1)
    facts = _Facts(worn_min if worn_min is not None else last_min, answers.calibrated, answers.meter_class)
    return find(columns_of(pairs, unit), facts)


def paired_wear(tables: Sequence[Table], answers: Answers) -> tuple[PreparedWear | None, tuple[Question, ...]]:
    """The wear that one trace and the fingersticks beside it make, or what is asked before there can be one."""
    tables = on_one_clock(tables)
    trace, sticks = table_of(tables, "sensor"), table_of(tables, "meter")
    if trace is None or sticks is None:
        missing = "the sensor's trace" if trace is None else "the fingersticks"
        return None, (Question("file", f"Which file holds {missing}? Add it, or say what a table holds.", (), ()),)
    if trace.counts_from_insertion != sticks.counts_from_insertion:
        raise InvalidInput("one file has a clock and the other counts from the insertion; export both with a clock")
    sensor, meter = series_of(trace, "sensor"), series_of(sticks, "meter")
    times, asked = _times(sensor, trace, answers)
    if times is None:
        return None, asked
    unit = answers.glucose_unit or str(sticks.mapping.glucose_unit)
    pairing, asked = _confirmed(sensor, meter, times, unit, answers)
    worn_min = int((times[1] - times[0]) // _MINUTE)
    odd = find_in_exports(sensor, meter, pairing)
    wear = PreparedWear(
        label="1",
        site=None,
        worn_min=worn_min,
        glucose_unit=unit,
        calibrated=answers.calibrated,
        meter_class=answers.meter_class,
        pairs=pairing.pairs,
        unmatched=pairing.unmatched,
        findings=(*odd, *_odd_pairs(pairing.pairs, unit, worn_min, answers)),
        pairing=pairing,
    )
    return wear, asked


def _times(
    sensor: Series, trace: Table, answers: Answers
) -> tuple[tuple[np.datetime64, np.datetime64] | None, tuple[Question, ...]]:
    """Insertion and end of the wear, or questions that offer where the trace begins and breaks off."""
    zone = trace.mapping.time_zone
    if trace.counts_from_insertion:
        if answers.worn_min is None:
            return None, (Question("worn_min", "How many minutes was the sensor worn?", (), ()),)
        return (INSERTION, INSERTION + answers.worn_min * _MINUTE), ()
    if answers.inserted is not None and answers.ended is not None:
        return (moment(answers.inserted, zone), moment(answers.ended, zone)), ()
    silent = np.flatnonzero(np.diff(sensor.time) >= SESSION_GAP)
    places = {"inserted": [0, *(silent + 1)], "ended": [*silent, sensor.n_readings - 1]}
    texts = {
        "inserted": "When was the sensor inserted? The trace begins, or goes on after a silence, at these times.",
        "ended": "When did the wear end? The trace breaks off at these times.",
    }
    asked = tuple(
        Question(
            name,
            texts[name],
            tuple(as_shown(sensor.time[place], zone) for place in places[name][:MOST_OFFERED]),
            tuple(int(sensor.line[place]) for place in places[name][:MOST_OFFERED]),
        )
        for name in texts
        if getattr(answers, name) is None
    )
    return None, asked


def _confirmed(
    sensor: Series, meter: Series, times: tuple[np.datetime64, np.datetime64], unit: str, answers: Answers
) -> tuple[Pairing, tuple[Question, ...]]:
    """The pairing, with the offset of the clocks taken off if the person said so, and asked about if not yet."""

    def paired(offset_min: float) -> Pairing:
        return pair(
            sensor,
            meter,
            inserted=times[0],
            ended=times[1],
            rules=PairingRules(answers.tolerance_min, answers.interpolate, before_only=answers.calibrated),
            offset_min=offset_min,
            glucose_unit=unit,
            prompt=answers.prompt or "other",
        )

    pairing = paired(0.0)
    offset = pairing.offset
    if offset is None or offset.verdict != "differs" or offset.minutes is None or answers.apply_offset is False:
        return pairing, ()
    if answers.apply_offset:
        return paired(float(offset.minutes)), ()
    text = (
        f"{offset.in_words()} Shall all of the meter's times be moved by as much? Say no if one of the clocks was set "
        "anew during the wear: then part of them is right as it stands."
    )
    return pairing, (Question("apply_offset", text, ("yes", "no"), ()),)
