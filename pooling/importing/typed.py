"""A mapped table of pairs typed from displays → wears."""

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from pooling.errors import InvalidInput
from pooling.importing.limits import named
from pooling.importing.table import NOT_A_TIME, Table, no_time, refuse
from pooling.importing.types import BELOW, INSERTION, NUMBER, ColumnMapping, Question, Sheet, TypedWear
from pooling.importing.units import check_magnitudes
from pooling.importing.values import UNREADABLE, Values
from pooling.importing.words import PROMPTED, says, words_in
from pooling.record import LONGEST_WEAR_MIN, MAX_PAIRS, Pair
from pooling.vocabulary import SITES, Prompt, label


def _told_apart_by(site: str) -> frozenset[str]:
    """The words of a site's name, in whatever order they are written."""
    return frozenset(words_in(site.replace("_", " "))) - {"of", "the", "side"}


_SITE_OF = {_told_apart_by(name): site for site in SITES for name in (site, label(site))}
_MINUTE = np.timedelta64(60, "s")


def start_asked(mapping: ColumnMapping) -> tuple[Question, ...]:
    """The question for times of insertion, where a table of typed pairs has no column that could tell them."""
    if mapping.kind != "typed" or {"elapsed", "inserted"} & set(mapping.roles):
        return ()
    text = "When was the sensor inserted? The table does not say. Give one time for each wear in it."
    return (Question("inserted", text, (), ()),)


def read_typed(
    sheet: Sheet, mapping: ColumnMapping, *, inserted: Sequence[np.datetime64] = ()
) -> tuple[TypedWear, ...]:
    """Wears of a table in which each row is a pair.

    Rows belong to one wear if they share a label, else a time of insertion. Where neither stands in the table, a row
    belongs to the last of the `inserted` times before it.

    Parameters
    ----------
    sheet : Sheet
    mapping : ColumnMapping
        Its `kind` is "typed".
    inserted : sequence of datetime64
        Times of insertion that the person told, on the clock of `Series.time`.

    Returns
    -------
    tuple of TypedWear
        In the order of their first rows; readings in `mapping.glucose_unit`.

    Raises
    ------
    InvalidInput
        As `read_series`; and if a wear has no time of insertion, a row lies before it or more than thirty days after
        it, or a wear has more pairs than a record may hold.
    """
    if mapping.kind != "typed":
        raise InvalidInput("a table of one instrument's readings is read with read_series, or choose kind 'typed'")
    table = Table(sheet, mapping)
    sensor, reference = _pair_columns(table)
    read = {role: table.read(column) for role, column in (("sensor", sensor), ("reference", reference))}
    second = table.place("replicate")
    if second is not None:
        read["replicate"] = table.read(second)
    used = _used(table, sensor, reference, read)
    if not used.size:
        raise InvalidInput("no pair was found; check which columns are meant")
    for role, column in read.items():
        place = table.place(role)
        if place is not None:
            check_magnitudes(column.number[used], table.lines[used], place, mapping.glucose_unit)
    return tuple(_wears(table, used, read, sorted(inserted)))


def _pair_columns(table: Table) -> tuple[int, int]:
    sensor, reference = table.place("sensor"), table.place("reference")
    if sensor is None or reference is None:
        missing = "sensor" if sensor is None else "reference"
        raise InvalidInput(f"no column holds the readings of the {missing}; give one the role {missing!r}")
    return sensor, reference


def _used(table: Table, sensor: int, reference: int, read: dict[str, Values]) -> NDArray[np.intp]:
    """Rows with any reading, without totals and repeated headers."""
    some = (read["sensor"].kind >= NUMBER) | (read["reference"].kind >= NUMBER)
    for role, column in (("sensor", sensor), ("reference", reference)):
        odd = table.unexcused(np.flatnonzero(some & (read[role].kind == UNREADABLE)))
        refuse(table.lines[odd], column, "neither a number nor a word for a reading out of range", "correct it")
    return table.unexcused(np.flatnonzero(some))


def _wears(
    table: Table, used: NDArray[np.intp], read: dict[str, Values], told: Sequence[np.datetime64]
) -> Iterator[TypedWear]:
    labels, start, time = _labels(table), _starts(table, told), _times(table, used)
    if start is None:
        raise InvalidInput("say when the sensor was inserted; the table has no column for it")
    key = labels if labels is not None else start.astype(str)
    for number, one in enumerate(dict.fromkeys(key[used].tolist()), start=1):
        places = used[key[used] == one]
        begun = start[places]
        if np.isnat(begun).all():
            raise InvalidInput(f"{named(table.lines[places])}: no time of insertion for this wear; add it")
        earliest = begun[~np.isnat(begun)].min()
        elapsed = (time[places] - earliest) // _MINUTE
        _check_elapsed(elapsed, table.lines[places])
        has_pair = _has_pair(read, places)
        if has_pair.sum() > MAX_PAIRS:
            raise InvalidInput(f"a wear has more than {MAX_PAIRS:,} pairs, the most that is taken; split the table")
        yield TypedWear(
            label=str(one) if labels is not None else str(number),
            site=_site(table, places),
            inserted=None if earliest == INSERTION else earliest,
            ended=_ended(table, places),
            pairs=_pairs(table, places[has_pair], elapsed[has_pair], read),
            left_out=tuple(table.lines[places[~has_pair]].tolist()),
        )


def _has_pair(read: dict[str, Values], places: NDArray[np.intp]) -> NDArray[np.bool_]:
    return (read["reference"].kind[places] == NUMBER) & (read["sensor"].kind[places] >= NUMBER)


def _times(table: Table, used: NDArray[np.intp]) -> NDArray[np.datetime64]:
    elapsed = table.place("elapsed")
    time = INSERTION + table.elapsed_s(elapsed) if elapsed is not None else table.times()
    if (lost := used[np.isnat(time[used])]).size:
        raise no_time(table.lines[lost])
    return time


def _starts(table: Table, told: Sequence[np.datetime64]) -> NDArray[np.datetime64] | None:
    """When the wear of each row began; `INSERTION` where rows count from it themselves."""
    if table.place("elapsed") is not None:
        return np.full(len(table.rows), INSERTION)
    if (column := table.place("inserted")) is not None:
        return _filled_down(table.dates(column))
    if not told:
        return None
    begun = np.array(told, dtype="datetime64[s]")
    place = np.searchsorted(begun, table.times(), side="right") - 1
    return np.where(place >= 0, begun[np.maximum(place, 0)], NOT_A_TIME)


def _filled_down(times: NDArray[np.datetime64]) -> NDArray[np.datetime64]:
    last = np.maximum.accumulate(np.where(np.isnat(times), 0, np.arange(times.size)))
    return times[last]


def _labels(table: Table) -> NDArray[np.str_] | None:
    """The label of each row; an empty cell repeats the one above."""
    if (column := table.place("wear")) is None:
        return None
    filled: list[str] = []
    for cell in table.cells(column):
        filled.append(cell.strip() or (filled[-1] if filled else ""))
    return np.array(filled)


def _check_elapsed(elapsed: NDArray[np.int64], lines: NDArray[np.int64]) -> None:
    if (before := lines[elapsed < 0]).size:
        raise InvalidInput(f"{named(before)}: before the sensor was inserted; correct the time or that of insertion")
    if (after := lines[elapsed > LONGEST_WEAR_MIN]).size:
        raise InvalidInput(
            f"{named(after)}: more than thirty days after insertion; correct the time, or give them a wear of their own"
        )


def _site(table: Table, places: NDArray[np.intp]) -> str | None:
    if (column := table.place("site")) is None:
        return None
    cells = table.cells(column)
    known = [_SITE_OF[told] for place in places if (told := _told_apart_by(cells[place])) in _SITE_OF]
    if len(set(known)) > 1:
        raise InvalidInput(f"{named(table.lines[places])}: one wear on several sites; give each its own label")
    return known[0] if known else None


def _ended(table: Table, places: NDArray[np.intp]) -> np.datetime64 | None:
    if (column := table.place("ended")) is None:
        return None
    ends = table.dates(column)[places]
    return None if np.isnat(ends).all() else ends[~np.isnat(ends)].max()


def _pairs(
    table: Table, places: NDArray[np.intp], elapsed: NDArray[np.int64], read: dict[str, Values]
) -> tuple[Pair, ...]:
    column = table.place("prompt")
    why = table.cells(column) if column is not None else None
    sensor, reference, second = read["sensor"], read["reference"], read.get("replicate")
    pairs = [
        Pair(
            elapsed_min=int(minute),
            reference=float(reference.number[place]),
            prompt=_prompt(why[place]) if why else "other",
            source="display",
            sensor=float(sensor.number[place]) if sensor.kind[place] == NUMBER else None,
            sensor_mark=None if sensor.kind[place] == NUMBER else "below" if sensor.kind[place] == BELOW else "above",
            replicate=float(second.number[place]) if second and second.kind[place] == NUMBER else None,
        )
        for place, minute in zip(places, elapsed, strict=True)
    ]
    return tuple(sorted(pairs, key=lambda pair: pair.elapsed_min))


def _prompt(cell: str) -> Prompt:
    return next((prompt for prompt, stems in PROMPTED.items() if says(cell, stems)), "other")
