"""Dates and clock times, a whole column at a time.

Cells are sorted by shape (every digit written as 0). A column has few shapes however long it is, so each is looked at
once and its cells are read as a matrix of digits.
"""

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pooling.importing.distinct import distinct
from pooling.importing.words import MONTHS, plain

ORDERS: tuple[str, ...] = ("day_first", "month_first", "year_first")
NO_TIME, NO_OFFSET = -1, -10_000
_LONGEST_CELL = 60
_MOST_SHAPES = 3_000
_EARLIEST, _LATEST = 1980, 2100
_DIGITS = str.maketrans(dict.fromkeys("123456789", "0"))
_APART = "\x1f"

Places = slice | NDArray[np.intp]

_GAP = r"[\s/.-]*"
_OF = r"(?:de\s+|d')?"
_DATES = (
    r"(?P<year>0{4})(?P<mark>[-/. ])\s?(?P<month>0{1,2})(?P=mark)\s?(?P<day>0{1,2})\.?",
    r"(?P<year>0000)(?P<month>00)(?P<day>00)",
    # Nobody writes month.day.year with full stops (common practice, no source).
    r"(?P<day>0{1,2})\.\s?(?P<month>0{1,2})\.\s?(?P<year>0000|00)",
    r"(?P<a>0{1,2})(?P<mark>[-/ ])(?P<b>0{1,2})(?P=mark)(?P<c>0000|00)",
    rf"(?P<day>0{{1,2}})(?:\.|er|st|nd|rd|th)?{_GAP}{_OF}(?P<name>[^\W\d_]{{3,}}){_GAP}{_OF}(?P<year>0000|00)",
    rf"(?P<name>[^\W\d_]{{3,}}){_GAP}(?P<day>0{{1,2}})(?:st|nd|rd|th)?,?[\s/.-]+(?P<year>0000|00)",
    r"(?P<year>0{4})[\s/.-]+(?P<name>[^\W\d_]{3,})[\s/.-]+(?P<day>0{1,2})",
)
_WEEKDAY = r"(?:[^\W\d_]+\.?,?\s+)?"
_BETWEEN = r"(?:\s*[t,;]\s*|\s+(?:um|at|à|a|a las|às|kl\.?|klockan|alle|ore|om|o)\s+|\s+|_|\s+-\s+)"
_HALF = r"(?:\s?(?P<half>[ap]\.?\s?m\.?|[fe]m|[vn]m|vorm\.?|nachm\.?))"
_TIME = (
    r"(?P<hour>0{1,2})(?:\s?h\s?|[:.])(?P<minute>00)(?:(?:[:.]|\s?m(?:in)?\s?)(?P<second>00)(?:[.,:]0{1,9})?)?"
    rf"(?:\s?(?:s|uhr|uur|h|u|min))?{_HALF}?"
)
_HOUR = rf"(?P<hour>0{{1,2}}){_HALF}"
_COMPACT_TIME = r"(?P<hour>00)(?P<minute>00)(?P<second>00)?"
_ZONE = (
    r"(?:\s*(?:(?P<utc>z|utc|gmt)|(?:utc|gmt)?\s?(?P<sign>[+−-])(?P<zone_hour>00):?(?P<zone_minute>00)?"
    r"|\(?(?P<zone>[a-z]{3,4})\)?))?(?:\[[^\]]*\])?"
)
# Abbreviations of the time-zone database for Europe, and the German ones, in minutes east of UTC.
_ZONES = {"wet": 0, "west": 60, "cet": 60, "cest": 120, "mez": 60, "mesz": 120, "eet": 120, "eest": 180}

_MOMENTS = tuple(
    re.compile(rf"\s*{body}\s*")
    for body in (
        *(f"{_WEEKDAY}{date}{_BETWEEN}{time}{_ZONE}" for date in _DATES for time in (_TIME, _HOUR)),
        rf"{_DATES[1]}[t\s_-]?{_COMPACT_TIME}{_ZONE}",
        *(f"{time}(?:,?\\s+){date}" for date in _DATES for time in (_TIME, _HOUR)),
        *(f"{_WEEKDAY}{date}" for date in _DATES),
        f"{_TIME}{_ZONE}",
        _HOUR,
    )
)


@dataclass(frozen=True, slots=True)
class Parts:
    """A column of dates and times taken apart; every array has shape (n_cells,).

    year, month, day : as written; where `open_order`, the three numbers as they stand and not yet told apart
    open_order : whether only the order of the column can tell them apart
    dated : whether there is a date
    second : seconds since midnight, `NO_TIME` without a time
    offset_min : minutes east of UTC, `NO_OFFSET` where the cell does not say
    """

    year: NDArray[np.int32]
    month: NDArray[np.int32]
    day: NDArray[np.int32]
    open_order: NDArray[np.bool_]
    dated: NDArray[np.bool_]
    second: NDArray[np.int32]
    offset_min: NDArray[np.int32]

    @property
    def timed(self) -> NDArray[np.bool_]:
        return self.second != NO_TIME

    def take(self, chosen: NDArray[np.bool_] | NDArray[np.intp]) -> "Parts":
        return Parts(**{part.name: getattr(self, part.name)[chosen] for part in fields(self)})


def take_apart(cells: Sequence[str]) -> Parts:
    """Read the shapes of a column; cells that are no date and no time have neither.

    Examples
    --------
    >>> parts = take_apart(["1.3.2031 8:05", "1 mars 2031 à 20h05", "03/01/31 8:05 PM", "lunch"])
    >>> parts.second.tolist(), parts.dated.tolist(), parts.open_order.tolist()
    ([29100, 72300, 72300, -1], [True, True, True, False], [False, False, True, False])
    """
    n = len(cells)
    parts = Parts(
        year=np.zeros(n, np.int32),
        month=np.zeros(n, np.int32),
        day=np.zeros(n, np.int32),
        open_order=np.zeros(n, np.bool_),
        dated=np.zeros(n, np.bool_),
        second=np.full(n, NO_TIME, np.int32),
        offset_min=np.full(n, NO_OFFSET, np.int32),
    )
    for n_seen, (shape, where, digits) in enumerate(_shapes(cells)):
        if n_seen == _MOST_SHAPES:
            break
        if len(shape) <= _LONGEST_CELL and (match := _matched(shape)):
            _fill(parts, where, match, digits)
    return parts


def _matched(shape: str) -> re.Match[str] | None:
    lowered = shape.lower()
    if len(lowered) != len(shape):
        return None
    for form in _MOMENTS:
        if (match := form.fullmatch(lowered)) and _known(match.groupdict()):
            return match
    return None


def _known(found: dict[str, str | None]) -> bool:
    name, zone = found.get("name"), found.get("zone")
    return (name is None or plain(name) in MONTHS) and (zone is None or zone in _ZONES)


def _shapes(cells: Sequence[str]) -> Iterator[tuple[str, Places, NDArray[Any]]]:
    """Each shape, where it stands, and its cells as numbers a letter (digits as 0 to 9)."""
    if not cells:
        return
    if (letters := _letters(cells)) is not None:
        first = cells[0].translate(_DIGITS)
        numbers = letters - np.uint8(48)  # what comes before "0" wraps round and is far above 9
        shape = np.frombuffer(first.encode(), np.uint8)
        digit = shape == 48
        if (numbers[:, digit] < 10).all() and (letters[:, ~digit] == shape[~digit]).all():
            yield first, slice(None), numbers
            return
    joined = _APART.join(cells)
    shapes = joined.translate(_DIGITS).split(_APART)
    if len(shapes) != len(cells):
        shapes = [cell.replace(_APART, " ").translate(_DIGITS) for cell in cells]
    codes, found = distinct(shapes)
    ends = np.cumsum(np.bincount(codes))
    for shape, where in zip(found, np.split(np.argsort(codes, kind="stable"), ends[:-1]), strict=True):
        if 0 < len(shape) <= _LONGEST_CELL:
            raw = "".join([cells[k] for k in where]).encode("utf-32-le", "replace")
            yield shape, where, np.frombuffer(raw, "<u4").reshape(where.size, -1) - np.uint32(48)


def _letters(cells: Sequence[str]) -> NDArray[np.uint8] | None:
    """A column of equally long ASCII cells as a matrix, None if it is none."""
    text, width = "".join(cells), len(cells[0])
    if not width or not text.isascii() or set(map(len, cells)) != {width}:
        return None
    return np.frombuffer(text.encode(), np.uint8).reshape(len(cells), width)


def _fill(parts: Parts, where: Places, match: re.Match[str], digits: NDArray[Any]) -> None:
    found = match.groupdict()

    def number(name: str) -> NDArray[np.int32]:
        start, end = match.span(name)
        total = digits[:, start].astype(np.int32)
        for place in range(start + 1, end):
            total = total * 10 + digits[:, place]
        return total

    if found.get("a"):
        parts.year[where], parts.month[where], parts.day[where] = number("a"), number("b"), number("c")
        parts.open_order[where] = parts.dated[where] = True
    elif found.get("year"):
        name = found.get("name")
        parts.year[where], parts.day[where] = number("year"), number("day")
        parts.month[where] = MONTHS[plain(name)] if name else number("month")
        parts.dated[where] = True
    if found.get("hour"):
        parts.second[where] = _seconds(found, number)
    if found.get("utc"):
        parts.offset_min[where] = 0
    elif found.get("sign"):
        east = number("zone_hour") * 60 + (number("zone_minute") if found.get("zone_minute") else 0)
        parts.offset_min[where] = east if found["sign"] == "+" else -east
    elif found.get("zone"):
        parts.offset_min[where] = _ZONES[str(found["zone"])]


def _seconds(found: dict[str, str | None], number: Callable[[str], NDArray[np.int32]]) -> NDArray[np.int32]:
    """Seconds since midnight, `NO_TIME` where the clock has no such time; 24:00 ends the day, second 60 is a leap."""
    hour = number("hour")
    minute = number("minute") if found.get("minute") else np.zeros_like(hour)
    second = number("second") if found.get("second") else np.zeros_like(hour)
    valid = (minute < 60) & (second <= 60) & ((hour < 24) | ((hour == 24) & (minute == 0) & (second == 0)))
    if half := found.get("half"):
        # On a clock of two halves 12 stands where 0 should; 13 to 23 name the hour whatever is written behind it.
        afternoon = half[0] in "pen"
        hour = np.where(hour > 12, hour, hour % 12 + 12 * afternoon)
    return np.where(valid, hour * 3600 + minute * 60 + second, NO_TIME)


def moments(parts: Parts, order: str | None) -> NDArray[np.datetime64]:
    """Days of the parts as datetime64[D], read in one order; NaT where there is no date or no such day.

    Examples
    --------
    >>> parts = take_apart(["3/4/2031", "31/12/31", "2031-02-30"])
    >>> moments(parts, "day_first").astype(str).tolist()
    ['2031-04-03', '2031-12-31', 'NaT']
    """
    year, month, day = parts.year, parts.month, parts.day
    if parts.open_order.any():
        told = {"day_first": (day, month, year), "month_first": (day, year, month)}.get(order or "", (year, month, day))
        year, month, day = (np.where(parts.open_order, a, b) for a, b in zip(told, (year, month, day), strict=True))
    year = np.where(year < 100, year + 2000, year)
    valid = parts.dated & (month >= 1) & (month <= 12) & (day >= 1) & (year >= _EARLIEST) & (year <= _LATEST)
    months = np.where(valid, (year - 1970) * 12 + month - 1, 0).astype("datetime64[M]")
    days = months.astype("datetime64[D]") + (np.where(valid, day, 1) - 1)
    return np.where(valid & (days.astype("datetime64[M]") == months), days, np.datetime64("NaT", "D"))


def orders_left(parts: Parts) -> tuple[str, ...]:
    """The orders of day, month and year in which a whole column can be meant: one, unless it is truly ambiguous.

    An order that makes a day of every cell goes before one that does not. If several do, an order in which the days
    follow one another goes before one in which each new day lies weeks from the last. "year_first" stands for a column
    in which no cell depends on the order.

    Examples
    --------
    >>> orders_left(take_apart(["03/04/2031", "25/04/2031"]))
    ('day_first',)
    >>> orders_left(take_apart(["04/11/2031", "04/12/2031", "05/01/2031"]))
    ('day_first', 'month_first')
    """
    if not parts.open_order.any():
        return ("year_first",)
    open_parts = parts.take(parts.open_order)
    orders = ORDERS if bool((open_parts.day < 100).all()) else ORDERS[:2]
    read = {order: moments(open_parts, order) for order in orders}
    n_lost = {order: int(np.isnat(days).sum()) for order, days in read.items()}
    fewest = min(n_lost.values())
    left = [order for order in orders if n_lost[order] == fewest]
    if fewest == 0 and len(left) > 1:
        left = [order for order in left if _runs_on(read[order])] or left
    same = all(np.array_equal(read[left[0]], read[order], equal_nan=True) for order in left[1:])
    return (left[0],) if same else tuple(left)


def _runs_on(days: NDArray[np.datetime64]) -> bool:
    """Whether three days or more follow one another with hardly a gap."""
    steps = np.diff(np.unique(days)).astype(np.int64)
    return bool(steps.size >= 2 and steps.max() <= 3)
