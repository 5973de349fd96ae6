"""The rows of a sheet below its header, column by column, as a mapping says."""

import re
from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pooling.errors import InvalidInput
from pooling.importing.clock import Running, in_utc
from pooling.importing.distinct import distinct
from pooling.importing.limits import at, named
from pooling.importing.moments import NO_OFFSET, ORDERS, Parts, moments, orders_left, take_apart
from pooling.importing.rows import Rows
from pooling.importing.types import INSERTION, ROLES, ColumnMapping, Sheet
from pooling.importing.values import Values, values
from pooling.importing.words import TOTAL, plain, says

NOT_A_TIME = np.datetime64("NaT", "s")
_ELAPSED = re.compile(r"(?:(?P<days>\d{1,3})\s*(?:d\w*|\+)\s*)?(?P<hours>\d{1,4}):(?P<minutes>\d\d)(?::\d\d)?")
_ELAPSED_NUMBER = re.compile(r"(\d{1,6}(?:[.,]\d{0,6})?)\s*(\w*)")
# Beginnings of the words for a unit of time in the nine languages.
_DAYS = ("day", "tag", "jour", "dia", "giorn", "dag", "dni", "dzien", "dygn")
_HOURS = ("hour", "stund", "heure", "hora", "ora", "ore", "uur", "uren", "godz", "timm")


@dataclass(frozen=True)
class Table:
    """A sheet under a mapping."""

    sheet: Sheet = field(repr=False)
    mapping: ColumnMapping

    def __post_init__(self) -> None:
        if self.mapping.date_order not in (None, *ORDERS) or self.mapping.decimal not in (".", ","):
            raise InvalidInput(f"the order of dates is one of {', '.join(ORDERS)}, and the decimal sign '.' or ','")
        if wrong := [role for role in self.mapping.roles if role not in ROLES]:
            raise InvalidInput(
                f"{len(wrong)} column(s) have a role that does not exist; choose from {', '.join(ROLES)}"
            )
        for role in set(self.mapping.roles) - {"ignored"}:
            if self.mapping.roles.count(role) > 1:
                raise InvalidInput(f"two columns have the role {role!r}; keep it on one and set the other to 'ignored'")

    @cached_property
    def start(self) -> int:
        header = self.mapping.header_line
        return 0 if header is None else bisect_right(self.sheet.lines, header)

    @cached_property
    def rows(self) -> Sequence[tuple[str, ...]]:
        return self.sheet.rows[self.start :]

    @cached_property
    def lines(self) -> NDArray[np.int64]:
        lines = self.sheet.lines[self.start :]
        if lines and lines[-1] - lines[0] == len(lines) - 1:
            return np.arange(lines[0], lines[-1] + 1, dtype=np.int64)
        return np.array(lines, dtype=np.int64)

    @cached_property
    def header(self) -> tuple[str, ...]:
        if self.mapping.header_line not in self.sheet.lines:
            return ()
        return self.sheet.rows[self.sheet.lines.index(self.mapping.header_line)]

    def place(self, *roles: str) -> int | None:
        """The column that has the first of these roles that any column has."""
        return next((self.mapping.roles.index(role) for role in roles if role in self.mapping.roles), None)

    def cells(self, column: int) -> list[str]:
        return column_of(self.rows, column)

    def named(self, column: int) -> str:
        return self.header[column] if column < len(self.header) else ""

    def read(self, column: int) -> Values:
        return self._once(column, self.mapping.decimal, lambda cells: values(cells, self.mapping.decimal))

    def parts(self, column: int) -> Parts:
        return self._once(column, "parts", take_apart)

    def _once(self, column: int, what: str, read: Callable[[list[str]], Any]) -> Any:
        key = (self.start, column, what)
        if key not in self.sheet.seen:
            self.sheet.seen[key] = read(self.cells(column))
        return self.sheet.seen[key]

    def excused(self, place: int) -> bool:
        """Whether a row holds no reading of its own: a total, or the header once more."""
        row = self.rows[place]
        if self.header and [plain(cell) for cell in row] == [plain(cell) for cell in self.header]:
            return True
        return any(says(cell, TOTAL) for cell in row if cell)

    def unexcused(self, places: NDArray[np.intp]) -> NDArray[np.intp]:
        return np.array([place for place in places if not self.excused(int(place))], dtype=np.intp)

    def dates(self, column: int) -> NDArray[np.datetime64]:
        """Dates with or without a time of one column, midnight where there is none; NaT where there is no date."""
        parts = self.parts(column)
        return self.running(_joined(parts, self._order(parts, column), timed=False), parts).time

    def _order(self, parts: Parts, column: int) -> str | None:
        if not parts.open_order.any():
            return None
        if self.mapping.date_order is not None:
            return self.mapping.date_order
        order, *others = orders_left(parts)
        if others:
            where = at(self.lines[parts.open_order], column)
            raise InvalidInput(f"{where}: day and month cannot be told apart; say which of them stands first")
        return order

    def times(self) -> NDArray[np.datetime64]:
        """When each row was taken, shape (n_rows,), datetime64[s]; NaT where the row does not say.

        Raises
        ------
        InvalidInput
            If the mapping has no column for it, or day and month cannot be told apart.
        """
        return self.clock.time

    @cached_property
    def clock(self) -> Running:
        """As `times`, with the rows in doubtful hours."""
        if (column := self.place("moment")) is not None:
            parts = self.parts(column)
            day_alone = bool(2 * (parts.dated & parts.timed).sum() < parts.dated.sum())
            return self.running(_joined(parts, self._order(parts, column), timed=day_alone), parts)
        date, clock = self.place("date"), self.place("time_of_day")
        if date is not None and clock is not None:
            days, hours = self.parts(date), self.parts(clock)
            day = _carried_on(moments(days, self._order(days, date)), hours.timed)
            wall = np.where(hours.timed, day.astype("datetime64[s]") + hours.second, NOT_A_TIME)
            return self.running(wall, hours)
        if (column := self.place("elapsed")) is not None:
            none = np.zeros(0, np.intp)
            return Running(INSERTION + self.elapsed_s(column), none, none)
        raise InvalidInput("no column says when a reading was taken; name one for date and time, or one for each")

    def running(self, wall: NDArray[np.datetime64], parts: Parts) -> Running:
        """UTC where the mapping names a zone, else the clock of the first cell."""
        there = ~np.isnat(wall)
        told = there & (parts.offset_min != NO_OFFSET)
        none = np.zeros(0, np.intp)
        if self.mapping.time_zone is None:
            if not told.any():
                return Running(wall, none, none)
            first = parts.offset_min[np.argmax(told)]
            shift_min = np.where(told, first - parts.offset_min, 0)
            return Running(wall + (shift_min * 60).astype("timedelta64[s]"), none, none)
        time = wall - np.where(told, parts.offset_min.astype(np.int64) * 60, 0).astype("timedelta64[s]")
        untold = np.flatnonzero(there & ~told)
        local = in_utc(wall[untold], self.mapping.time_zone)
        time[untold] = local.time
        return Running(time, untold[local.repeated], untold[local.missing])

    def elapsed_s(self, column: int) -> NDArray[np.timedelta64]:
        """Time since insertion, timedelta64[s]; NaT where there is none."""
        per_unit = _unit_s(self.named(column)) or 60
        codes, found = distinct(self.cells(column))
        seconds = np.array([_elapsed(cell, per_unit) for cell in found], dtype="timedelta64[s]")
        return seconds[codes]


def column_of(rows: Sequence[tuple[str, ...]], column: int) -> list[str]:
    """One column; a row that is too short has an empty cell there."""
    if isinstance(rows, Rows):
        return rows.column(column)
    try:
        return [row[column] for row in rows]
    except IndexError:
        return [row[column] if column < len(row) else "" for row in rows]


def refuse(lines: NDArray[np.int64], column: int, what: str, advice: str) -> None:
    """Raise InvalidInput for a column if there is any line to name."""
    if lines.size:
        raise InvalidInput(f"{at(lines, column)}: {what}; {advice}")


def no_time(lines: NDArray[np.int64]) -> InvalidInput:
    return InvalidInput(
        f"{named(lines)}: a reading without a date and time that can be read; correct these lines or take them out"
    )


def _joined(parts: Parts, order: str | None, *, timed: bool) -> NDArray[np.datetime64]:
    """Days and times as one; a date without a time is midnight unless times are insisted on."""
    second = np.where(parts.timed, parts.second, 0)
    whole = moments(parts, order).astype("datetime64[s]") + second.astype("timedelta64[s]")
    return np.where(parts.timed, whole, NOT_A_TIME) if timed else whole


def _carried_on(day: NDArray[np.datetime64], wanted: NDArray[np.bool_]) -> NDArray[np.datetime64]:
    """A day that is written once and holds for the rows below it."""
    if not (np.isnat(day) & wanted).any():
        return day
    last = np.maximum.accumulate(np.where(np.isnat(day), 0, np.arange(day.size)))
    return day[last]


def _unit_s(text: str) -> int | None:
    words = plain(text).replace("_", " ").split()
    for beginnings, seconds in ((_DAYS, 86_400), (_HOURS, 3_600), (("min",), 60)):
        if any(word.strip("()[].,").startswith(beginnings) for word in words):
            return seconds
    return {"d": 86_400, "h": 3_600, "s": 1}.get(words[-1].strip("()[].,")) if words else None


def _elapsed(cell: str, per_unit: int) -> np.timedelta64:
    text = plain(cell.strip())
    if match := _ELAPSED.fullmatch(text):
        minutes = (int(match["days"] or 0) * 24 + int(match["hours"])) * 60 + int(match["minutes"])
        return np.timedelta64(minutes * 60, "s")
    if match := _ELAPSED_NUMBER.fullmatch(text):
        unit = (_unit_s(match[2]) or per_unit) if match[2] else per_unit
        return np.timedelta64(round(float(match[1].replace(",", ".")) * unit), "s")
    return np.timedelta64("NaT", "s")
