"""Spreadsheets (.xlsx, .ods) → tables of text cells, unpacked only within limits."""

import io
import re
import zipfile
from datetime import date, datetime, time, timedelta
from xml.parsers import expat

from python_calamine import CalamineError, CalamineWorkbook

from pooling.errors import InvalidInput
from pooling.importing.limits import (
    MAX_CELL,
    MAX_COLUMNS,
    MAX_PACKED_FILES,
    MAX_ROWS,
    MAX_SHEETS,
    MAX_UNPACKED_BYTES,
    MAX_UNPACKED_RATIO,
    refuse_above,
)
from pooling.importing.text import sheet_of
from pooling.importing.types import Sheet

_SMALL = 1_000_000  # the ratio of a small file says nothing
_DAMAGED = "the workbook is damaged or of another kind; save it anew as .xlsx or .ods, or export it as CSV"
_CELL_PLACE = re.compile(rb"""\br\s*=\s*["']\s*([A-Za-z]*)(\d+)\s*["']""")
_TEXT_RUN = re.compile(rb"<(?:\w+:)?si\b.*?</(?:\w+:)?si\s*>", re.DOTALL)


def read_workbook(data: bytes) -> tuple[Sheet, ...]:
    """Every sheet of a workbook that has anything in it.

    Raises
    ------
    InvalidInput
        If the archive would unpack to more than the limits (its directory is read before anything is unpacked), if the
        sheets reach further than a table may, or if this is no workbook.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            _check_directory(archive)
            clean = _unpacked(archive)
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, OSError, EOFError, ValueError) as error:
        if isinstance(error, InvalidInput):
            raise
        raise InvalidInput(_DAMAGED) from None
    sheets = []
    for name, rows in _sheets(clean):
        cells = [tuple(map(_text, row)) for row in rows]
        if any(cell.strip() for row in cells for cell in row):
            sheets.append(sheet_of(name, range(1, len(cells) + 1), [_trimmed(row) for row in cells]))
    if not sheets:
        raise InvalidInput("the workbook has no sheet with anything in it; export it anew")
    return tuple(sheets)


def _check_directory(archive: zipfile.ZipFile) -> None:
    entries = archive.infolist()
    refuse_above(len(entries), MAX_PACKED_FILES, f"{len(entries):,} parts", "save it anew as .xlsx or .ods")
    unpacked = sum(entry.file_size for entry in entries)
    refuse_above(unpacked, MAX_UNPACKED_BYTES, f"{unpacked:,} bytes once unpacked", "export a shorter span")
    for entry in entries:
        if entry.file_size > _SMALL and entry.file_size > MAX_UNPACKED_RATIO * max(entry.compress_size, 1):
            raise InvalidInput(
                f"a part of the workbook unpacks to more than {MAX_UNPACKED_RATIO} times its size, as no table of "
                "readings does; export it as CSV"
            )
        if entry.flag_bits & 1:
            raise InvalidInput("the workbook is locked with a password; save it without one")


def _unpacked(archive: zipfile.ZipFile) -> bytes:
    """The same archive without compression: what is read on has the size that the directory promised."""
    clean = io.BytesIO()
    with zipfile.ZipFile(clean, "w", zipfile.ZIP_STORED) as copy:
        for entry in archive.infolist():
            if entry.is_dir() or not entry.filename.endswith((".xml", ".rels", "mimetype")):
                continue
            content = archive.read(entry)
            _check_reach(entry.filename, content)
            copy.writestr(zipfile.ZipInfo(entry.filename), content)
    return clean.getvalue()


def _check_reach(name: str, content: bytes) -> None:
    """Refuse sheets that reach further than a table may, before a program lays them out in full."""
    if name.startswith("xl/") and name.endswith(".xml"):
        n_rows = n_columns = 0
        for letters, digits in set(_CELL_PLACE.findall(content)):
            n_rows = max(n_rows, int(digits[:9]))
            n_columns = max(n_columns, _column_number(letters))
        _refuse_reach(n_rows, n_columns)
        if any(len(run) > 20 * MAX_CELL for run in _TEXT_RUN.findall(content)):
            raise InvalidInput(f"a cell is longer than {MAX_CELL:,} characters; is this a table of readings?")
    elif name == "content.xml":
        _refuse_reach(*_Reach().of(content))


def _refuse_reach(n_rows: int, n_columns: int) -> None:
    refuse_above(n_rows, MAX_ROWS, f"rows down to {n_rows:,}", "export a shorter span")
    refuse_above(n_columns, MAX_COLUMNS, f"columns up to {n_columns:,}", "leave out columns that are not needed")


def _column_number(letters: bytes) -> int:
    number = 0
    for letter in letters.upper()[:6]:
        number = number * 26 + letter - 64
    return number


class _Reach:
    """How far the filled cells of an OpenDocument sheet reach, with its repeated rows and cells counted out."""

    def __init__(self) -> None:
        self.n_rows = self.n_columns = 0
        self._row = self._row_repeats = self._column = self._repeats = self._filled = 0

    def of(self, content: bytes) -> tuple[int, int]:
        parser = expat.ParserCreate()
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.CharacterDataHandler = self._characters
        try:
            parser.Parse(content, True)
        except expat.ExpatError:
            raise InvalidInput(_DAMAGED) from None
        return self.n_rows, self.n_columns

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        if name == "table:table":
            self._row = 0
        elif name == "table:table-row":
            self._row_repeats = _repeats(attributes, "table:number-rows-repeated")
            self._column = self._filled = 0
        elif name in ("table:table-cell", "table:covered-table-cell"):
            self._repeats = _repeats(attributes, "table:number-columns-repeated")
            self._column += self._repeats
            if any(key.startswith("office:") or key == "table:formula" for key in attributes):
                self._filled = self._column

    def _characters(self, text: str) -> None:
        if text.strip():
            self._filled = self._column

    def _end(self, name: str) -> None:
        if name == "table:table-row":
            self._row += self._row_repeats
            if self._filled:
                self.n_rows, self.n_columns = max(self.n_rows, self._row), max(self.n_columns, self._filled)


def _repeats(attributes: dict[str, str], name: str) -> int:
    told = attributes.get(name, "1").strip()
    return int(told[:9]) if told.isdecimal() else 1


def _sheets(data: bytes) -> list[tuple[str, list[list[object]]]]:
    try:
        workbook = CalamineWorkbook.from_filelike(io.BytesIO(data))
        names = workbook.sheet_names
        refuse_above(len(names), MAX_SHEETS, f"{len(names)} sheets", "keep the sheets that are needed")
        return [(name, workbook.get_sheet_by_name(name).to_python(skip_empty_area=False)) for name in names]
    except InvalidInput:
        raise
    except (CalamineError, ValueError, OverflowError, OSError, KeyError):
        raise InvalidInput(_DAMAGED) from None


def _text(cell: object) -> str:
    """A cell as it would stand in a CSV file: numbers with a full stop, dates year first."""
    match cell:
        case str():
            return cell
        case bool():
            return "yes" if cell else "no"
        case float():
            return str(int(cell)) if cell.is_integer() and abs(cell) < 1e15 else repr(round(cell, 9))
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
    while width and not row[width - 1]:
        width -= 1
    return row[:width]
