"""The packed inside of a spreadsheet, unpacked only within limits."""

import io
import re
import zipfile
import zlib
from xml.parsers import expat

from pooling.errors import InvalidInput
from pooling.importing.limits import (
    MAX_CELL,
    MAX_CELLS,
    MAX_COLUMNS,
    MAX_PACKED_FILES,
    MAX_ROWS,
    MAX_TEXT,
    MAX_UNPACKED_BYTES,
    MAX_UNPACKED_RATIO,
    refuse_above,
)

DAMAGED = "the workbook is damaged or of another kind; save it anew as .xlsx or .ods, or export it as CSV"
_SMALL = 1_000_000  # the ratio of a small part says nothing
_READ = (".xml", ".rels", "mimetype")
_CELL_PLACE = re.compile(rb"""\br\s*=\s*["']\s*([A-Za-z]*)(\d+)\s*["']""")
_CELL = re.compile(rb"<(?:\w+:)?c[\s>]")
_SHARED = re.compile(rb"<(?:\w+:)?si\b.*?</(?:\w+:)?si\s*>", re.DOTALL)
_MARKUP_A_LETTER = 20


def unpacked(data: bytes) -> bytes:
    """The same archive without compression, so that whoever reads on meets only what has been measured here.

    The directory of the archive is read before anything is unpacked, no part can grow beyond what the directory
    promises, and a sheet whose few cells lie far apart, or repeat, is measured as it would be laid out.

    Raises
    ------
    InvalidInput
        If any of this exceeds the limits, if a part is locked, or if the archive is damaged.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            _check_directory(archive)
            parts = {
                entry.filename: archive.read(entry) for entry in archive.infolist() if entry.filename.endswith(_READ)
            }
    except InvalidInput:
        raise
    except (zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError, OSError, EOFError, ValueError):
        raise InvalidInput(DAMAGED) from None
    _check_reach(parts)
    plain = io.BytesIO()
    with zipfile.ZipFile(plain, "w", zipfile.ZIP_STORED) as copy:
        for name, content in parts.items():
            copy.writestr(zipfile.ZipInfo(name), content)
    return plain.getvalue()


def _check_directory(archive: zipfile.ZipFile) -> None:
    entries = archive.infolist()
    refuse_above(len(entries), MAX_PACKED_FILES, f"{len(entries):,} parts", "save it anew as .xlsx or .ods")
    total = sum(entry.file_size for entry in entries)
    refuse_above(total, MAX_UNPACKED_BYTES, f"{total:,} bytes once unpacked", "export a shorter span")
    for entry in entries:
        if entry.file_size > _SMALL and entry.file_size > MAX_UNPACKED_RATIO * max(entry.compress_size, 1):
            raise InvalidInput(
                f"a part of the workbook unpacks to more than {MAX_UNPACKED_RATIO} times its size, as no table of "
                "readings does; export it as CSV"
            )
        if entry.flag_bits & 1:
            raise InvalidInput("the workbook is locked with a password; save it without one")


def _check_reach(parts: dict[str, bytes]) -> None:
    longest = 0
    for name, content in parts.items():
        if name.startswith("xl/"):
            longest = max(longest, *map(len, _SHARED.findall(content)), 0)
    if longest > _MARKUP_A_LETTER * MAX_CELL:
        raise InvalidInput(f"a cell is longer than {MAX_CELL:,} characters; give a table of readings")
    for name, content in parts.items():
        if name.startswith("xl/") and (places := set(_CELL_PLACE.findall(content))):
            n_rows = max(int(digits[:9]) for _, digits in places)
            n_columns = max(_column_number(letters) for letters, _ in places)
            _refuse_reach(n_rows, n_columns, longest * len(_CELL.findall(content)))
        elif name == "content.xml":
            reach = _Reach(content)
            _refuse_reach(reach.n_rows, reach.n_columns, reach.n_letters)


def _refuse_reach(n_rows: int, n_columns: int, n_letters: int) -> None:
    refuse_above(n_rows, MAX_ROWS, f"rows down to {n_rows:,}", "export a shorter span")
    refuse_above(n_columns, MAX_COLUMNS, f"columns up to {n_columns:,}", "leave out columns that are not needed")
    cells = n_rows * n_columns
    refuse_above(cells, MAX_CELLS, f"{cells:,} cells in a sheet", "leave out columns that are not needed")
    refuse_above(n_letters, MAX_TEXT, "long texts in very many cells", "leave out columns that are not needed")


def _column_number(letters: bytes) -> int:
    number = 0
    for letter in letters.upper()[:6]:
        number = number * 26 + letter - 64
    return number


class _Reach:
    """How far the filled cells of an OpenDocument file reach, with repeated rows and cells counted out."""

    def __init__(self, content: bytes) -> None:
        self.n_rows = self.n_columns = self.n_letters = 0
        self._row = self._row_repeats = self._column = self._repeats = self._filled = self._letters = 0
        parser = expat.ParserCreate()
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.CharacterDataHandler = self._characters
        try:
            parser.Parse(content, True)
        except (expat.ExpatError, ValueError, LookupError):
            raise InvalidInput(DAMAGED) from None

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        if name == "table:table":
            self._row = 0
        elif name == "table:table-row":
            self._row_repeats = _repeats(attributes, "table:number-rows-repeated")
            self._column = self._filled = self._letters = 0
        elif name in ("table:table-cell", "table:covered-table-cell"):
            self._repeats = _repeats(attributes, "table:number-columns-repeated")
            self._column += self._repeats
            if any(key.startswith("office:") or key == "table:formula" for key in attributes):
                self._filled = self._column
                self._letters += self._repeats * max(map(len, attributes.values()))

    def _characters(self, text: str) -> None:
        if text.strip():
            self._filled = self._column
            self._letters += self._repeats * len(text)

    def _end(self, name: str) -> None:
        if name == "table:table-row":
            self._row += self._row_repeats
            self.n_letters += self._row_repeats * self._letters
            if self._filled:
                self.n_rows, self.n_columns = max(self.n_rows, self._row), max(self.n_columns, self._filled)


def _repeats(attributes: dict[str, str], name: str) -> int:
    told = attributes.get(name, "1").strip()
    return int(told[:9]) if told.isdecimal() else 1
