"""From files to tables that can be read, all on one clock."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime

import msgspec.structs
import numpy as np

from pooling.errors import FileInvalid, InvalidInput
from pooling.importing import (
    ColumnMapping,
    Proposal,
    Question,
    Series,
    Sheet,
    kinds_of,
    open_file,
    propose,
    read_series,
    remarks,
    start_asked,
)
from pooling.importing.clock import in_utc, zone_of
from pooling.preparation.given import Export


@dataclass(frozen=True, slots=True)
class Table:
    """A sheet, which export it is from, and how it is read."""

    place: int
    sheet: Sheet
    mapping: ColumnMapping

    @property
    def kinds(self) -> tuple[str, ...]:
        """What it can be read as."""
        return kinds_of(self.mapping)

    @property
    def counts_from_insertion(self) -> bool:
        """Whether it has minutes of the wear instead of a clock."""
        return "elapsed" in self.mapping.roles


@contextmanager
def naming(place: int) -> Iterator[None]:
    """Say of which file it is that something is wrong with."""
    try:
        yield
    except InvalidInput as error:
        raise FileInvalid(place, str(error)) from None


def opened(place: int, export: Export) -> tuple[Table | None, Proposal | None, tuple[Question, ...]]:
    """A file's table, how it would be read, and what is asked about it; no table while its sheet is not chosen."""
    with naming(place):
        sheets = open_file(export.data, filename=export.filename)
        if export.sheet is not None:
            sheets = tuple(sheet for sheet in sheets if sheet.name == export.sheet)
        if not sheets:
            raise InvalidInput("it has no sheet of that name; choose one of those it has")
        if len(sheets) > 1:
            names = tuple(sheet.name for sheet in sheets)
            return None, None, (Question("sheet", "Which sheet of this workbook holds the readings?", names, ()),)
        (sheet,) = sheets
        if export.mapping is None:
            proposal = propose(sheet)
        else:
            asked = (*start_asked(export.mapping), *remarks(sheet, export.mapping))
            proposal = Proposal(export.mapping, asked, ())
    return Table(place, sheet, proposal.mapping), proposal, proposal.questions


def on_one_clock(tables: Sequence[Table]) -> tuple[Table, ...]:
    """Tables that name no time zone take that of the others: both instruments showed the time of one place."""
    zones = [table.mapping.time_zone for table in tables if table.mapping.time_zone is not None]
    if not zones:
        return tuple(tables)
    return tuple(
        replace(table, mapping=msgspec.structs.replace(table.mapping, time_zone=table.mapping.time_zone or zones[0]))
        for table in tables
    )


def table_of(tables: Sequence[Table], kind: str) -> Table | None:
    """The one table that holds this instrument.

    Raises
    ------
    InvalidInput
        If several do.
    """
    holding = [table for table in tables if kind in table.kinds]
    if len(holding) > 1:
        named = " and ".join(str(table.place + 1) for table in holding)
        what = "the sensor's readings" if kind == "sensor" else "fingersticks"
        raise InvalidInput(f"files {named} both hold {what}; choose one file of the sensor and one of the meter")
    return holding[0] if holding else None


def series_of(table: Table, kind: str) -> Series:
    """Readings of one instrument; errors name the file."""
    with naming(table.place):
        return read_series(table.sheet, msgspec.structs.replace(table.mapping, kind=kind))


def moment(told: datetime, time_zone: str | None) -> np.datetime64:
    """A time that the person told, on the clock of `Series.time`.

    Raises
    ------
    InvalidInput
        If it has an offset from UTC: clocks of instruments show none.
    """
    if told.tzinfo is not None:
        raise InvalidInput("give times as the clock showed them, without an offset from UTC")
    wall = np.array([told], dtype="datetime64[s]")
    return wall[0] if time_zone is None else in_utc(wall, time_zone).time[0]


def as_shown(time: np.datetime64, time_zone: str | None) -> str:
    """A time of a series as the clock showed it, in the form in which it is answered."""
    shown = time.astype("datetime64[s]").item()
    if time_zone is not None:
        shown = shown.replace(tzinfo=UTC).astimezone(zone_of(time_zone)).replace(tzinfo=None)
    return str(shown.isoformat(timespec="seconds"))
