"""A mapped table → the readings of one instrument."""

import numpy as np
from numpy.typing import NDArray

from pooling.errors import InvalidInput
from pooling.importing.clock import steps_back
from pooling.importing.limits import named
from pooling.importing.table import Table, no_time, refuse
from pooling.importing.types import NUMBER, ColumnMapping, Series, Sheet
from pooling.importing.units import check_magnitudes
from pooling.importing.values import UNREADABLE, Values
from pooling.importing.words import REFERENCE, SENSOR, says
from pooling.units import to_mg_dl

_COLUMNS = {"sensor": ("sensor", "glucose"), "meter": ("reference", "glucose")}
_WORDS = {"sensor": SENSOR, "meter": REFERENCE}


def read_series(sheet: Sheet, mapping: ColumnMapping) -> Series:
    """Readings of the instrument that `mapping.kind` names, in time order.

    Rows without a reading, totals, repeated headers and closing remarks are left out. Of a sensor, a row that repeats
    another in time and value is taken once; of a meter it may be a second strip and stays.

    Parameters
    ----------
    sheet : Sheet
        One table, from `open_file`.
    mapping : ColumnMapping
        Its `kind` is "sensor" or "meter". A table that holds both is read twice, once as each (see `kinds_of`).

    Returns
    -------
    Series

    Raises
    ------
    InvalidInput
        If the mapping lacks a column, the unit or the order of dates; if a reading has no time, a time has a cell that
        is neither number nor mark, or readings lie where the unit cannot be right; if the clock was put back and no
        time zone says so. Each names lines, none repeats a reading.
    """
    if mapping.kind not in _COLUMNS:
        raise InvalidInput("a table of typed pairs is read with read_typed, or choose kind 'sensor' or 'meter'")
    table = Table(sheet, mapping)
    column = table.place(*_COLUMNS[mapping.kind])
    if column is None:
        wanted = " or ".join(repr(role) for role in _COLUMNS[mapping.kind])
        raise InvalidInput(f"no column holds the readings of the {mapping.kind}; give one the role {wanted}")
    read, times = table.read(column), table.times()
    kept = _kept(table, column, read, times) & _of_instrument(table)
    if not kept.any():
        raise InvalidInput(f"no reading of the {mapping.kind} was found; check which columns are meant")
    places = np.flatnonzero(kept)
    _refuse_step_back(table, times[places], read.number[places], places)
    number, kind, line = read.number[places], read.kind[places], table.lines[places]
    check_magnitudes(number, line, column, mapping.glucose_unit)
    return _in_order(times[places], to_mg_dl(number, str(mapping.glucose_unit)), kind, line, mapping.kind)


def kinds_of(mapping: ColumnMapping) -> tuple[str, ...]:
    """What a mapped table can be read as: one kind, or sensor and meter one after the other."""
    both = {"sensor", "reference"} <= set(mapping.roles) or "instrument" in mapping.roles
    return ("sensor", "meter") if both and mapping.kind != "typed" else (mapping.kind,)


def _kept(table: Table, column: int, read: Values, times: NDArray[np.datetime64]) -> NDArray[np.bool_]:
    timed, reading, odd = ~np.isnat(times), read.kind >= NUMBER, read.kind == UNREADABLE
    if odd.any() and (lines := table.lines[table.unexcused(np.flatnonzero(odd & timed))]).size:
        refuse(lines, column, "neither a number nor a word for a reading out of range", "correct or empty these cells")
    if not timed.all():
        lost = table.unexcused(np.flatnonzero(reading & ~timed))
        if lost.size:
            raise no_time(table.lines[lost])
    return reading & timed


def _of_instrument(table: Table) -> NDArray[np.bool_]:
    """Rows that say they are of this instrument; all of them if none says anything."""
    column = table.place("instrument")
    if column is None:
        return np.ones(len(table.rows), bool)
    cells = table.cells(column)
    meant = {cell: says(cell, _WORDS[table.mapping.kind]) for cell in set(cells)}
    return np.array([meant[cell] for cell in cells], dtype=bool)


def _refuse_step_back(
    table: Table, times: NDArray[np.datetime64], numbers: NDArray[np.float64], places: NDArray[np.intp]
) -> None:
    if table.mapping.kind != "sensor" or table.mapping.time_zone is not None:
        return
    if (back := steps_back(times, numbers)).size:
        raise InvalidInput(
            f"{named(table.lines[places[back]])}: the clock goes back here, so an hour stands in the file twice; "
            "name the time zone, such as Europe/Lisbon"
        )


def _in_order(
    time: NDArray[np.datetime64],
    mg_dl: NDArray[np.float64],
    kind: NDArray[np.int8],
    line: NDArray[np.int64],
    instrument: str,
) -> Series:
    steps = np.diff(time).astype(np.int64)
    if (steps < 0).any():
        order = np.argsort(time, kind="stable")
        time, mg_dl, kind, line = time[order], mg_dl[order], kind[order], line[order]
        steps = np.diff(time).astype(np.int64)
    if instrument == "sensor" and (steps == 0).any():
        same_value = (mg_dl[1:] == mg_dl[:-1]) | (kind[1:] == kind[:-1]) & (kind[1:] != NUMBER)
        fresh = np.r_[True, ~((steps == 0) & same_value)]
        time, mg_dl, kind, line = time[fresh], mg_dl[fresh], kind[fresh], line[fresh]
    return Series(time, mg_dl, kind, line)
