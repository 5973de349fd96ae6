"""Spreadsheets (.xlsx, .ods) → tables of text cells."""

import io
from collections.abc import Sequence
from datetime import date, datetime, time, timedelta

from python_calamine import CalamineError, CalamineWorkbook

from pooling.errors import InvalidInput
from pooling.importing.archive import DAMAGED, unpacked
from pooling.importing.limits import MAX_SHEETS, refuse_above
from pooling.importing.text import sheet_of
from pooling.importing.types import Sheet


def read_workbook(data: bytes) -> tuple[Sheet, ...]:
    """Every sheet of a workbook that has anything in it; dates become year-first text, numbers have a full stop.

    Raises
    ------
    InvalidInput
        As `archive.unpacked`; if there are too many sheets or none with anything in it; or if this is no workbook.
    """
    sheets = []
    for name, rows in _sheets(unpacked(data)):
        cells = [_trimmed(tuple(map(_text, row))) for row in rows]
        if any(cells):
            sheets.append(sheet_of(name, range(1, len(cells) + 1), cells))
    if not sheets:
        raise InvalidInput("the workbook has no sheet with anything in it; export it anew")
    return tuple(sheets)


def _sheets(data: bytes) -> list[tuple[str, Sequence[Sequence[object]]]]:
    try:
        workbook = CalamineWorkbook.from_filelike(io.BytesIO(data))
        names = workbook.sheet_names
        refuse_above(len(names), MAX_SHEETS, f"{len(names)} sheets", "keep the sheets that are needed")
        return [(name, workbook.get_sheet_by_name(name).to_python(skip_empty_area=False)) for name in names]
    except InvalidInput:
        raise
    except (CalamineError, ValueError, OverflowError, OSError, KeyError):
        raise InvalidInput(DAMAGED) from None


def _text(cell: object) -> str:
    """A cell as it would stand in a CSV file: numbers with a full stop, dates year first."""
    match cell:
        case str():
            return cell
        case bool():
            return "yes" if cell else "no"
        case float():
            return str(int(cell)) if cell.is_integer() and abs(cell) < 1e15 else repr(round(cell, 9))
        case datetime() if cell.year < 1901:  # a time alone, counted from the first day of spreadsheets
            return _seconds(cell).time().isoformat()
        case datetime():
            return _seconds(cell).isoformat(" ")
        case date():
            return cell.isoformat()
        case time():
            return _seconds(datetime.combine(date(2000, 1, 1), cell)).time().isoformat()
        case timedelta():
            minutes, seconds = divmod(round(cell.total_seconds()), 60)
            return f"{minutes // 60}:{minutes % 60:02}:{seconds:02}"
    return str(cell)


def _seconds(moment: datetime) -> datetime:
    """To the nearest second: a fraction of a day kept as a number rarely comes back exactly."""
    return (moment + timedelta(microseconds=500_000)).replace(microsecond=0)


def _trimmed(row: tuple[str, ...]) -> tuple[str, ...]:
    width = len(row)
    while width and not row[width - 1].strip():
        width -= 1
    return row[:width]
