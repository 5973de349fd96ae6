"""Delimited text of any code page, separator and quoting → rows of cells."""

import codecs
import csv
import io
import re
from collections import Counter

from charset_normalizer import from_bytes

from pooling.errors import InvalidInput
from pooling.importing.limits import MAX_CELL, MAX_COLUMNS, MAX_LINE, MAX_ROWS, named, refuse_above
from pooling.importing.moments import take_apart
from pooling.importing.types import Sheet
from pooling.importing.words import unit_in, words_in

_BOMS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
# The legacy code pages of the languages that headers are understood in.
_CODE_PAGES = ["cp1252", "cp1250", "iso8859_2", "iso8859_15", "mac_roman", "cp850", "cp852", "cp1257"]
_LETTERS = frozenset("äöüßéèêëàâîïôûùçœæñíóúáìòãõåøąćęłńśźż°µ€")
_GUESSED_BYTES = 65_536
_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1f\x7f\ufffe\uffff]")

_SAMPLED_LINES = 200
_SPACES = "  "  # stands for two spaces or more
_USUAL = (";", "\t", ",", "|", _SPACES, " ")
_NEVER = frozenset("\"'.+-:/()[]%\\<>_@#?$€°")
_PUNCTUATION = frozenset(";,\t|")
_NUMBER = re.compile(r"[<>≤≥]?\s*[+-]?\d+(?:[.,]\d+)?")
_DIRECTIVE = re.compile(r"sep=(.)", re.IGNORECASE)


def decode(data: bytes) -> str:
    """The text of a file by its byte-order mark, else as UTF-8, UTF-16, or in a likely code page.

    Raises
    ------
    InvalidInput
        If this is no text at all.
    """
    text = _decoded(data)
    if _CONTROL.search(text):
        raise InvalidInput(
            "this is not a text file that can be read (it holds control characters); "
            "export it as CSV in UTF-8, or as .xlsx or .ods"
        )
    return text


def _decoded(data: bytes) -> str:
    for mark, name in _BOMS:
        if data.startswith(mark):
            return _strictly(data[len(mark) :], name)
    if name := _wide(data):
        return _strictly(data, name)
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode(_code_page(data), errors="replace")


def _strictly(data: bytes, name: str) -> str:
    try:
        return data.decode(name)
    except UnicodeDecodeError:
        raise InvalidInput(
            f"the file says that it is {name.upper()} and breaks off or is damaged; export it anew"
        ) from None


def _wide(data: bytes) -> str | None:
    """UTF-16 without a mark: in Western text every other byte is zero."""
    head = data[:4096]
    even, odd = head[0::2].count(0), head[1::2].count(0)
    if 4 * max(even, odd) <= len(head) or min(even, odd) * 8 > max(even, odd):
        return None
    return "utf-16-be" if even > odd else "utf-16-le"


def _code_page(data: bytes) -> str:
    """The code page in which the bytes beyond ASCII are most often letters of the nine languages.

    The library rules out what cannot be text and puts the rest in an order, which decides between equals.
    """
    telling = b"\n".join(line for line in re.split(rb"[\r\n]+", data) if not line.isascii())[:_GUESSED_BYTES]
    likely = [match.encoding for match in from_bytes(telling, cp_isolation=_CODE_PAGES)]
    return max(dict.fromkeys((*likely, *_CODE_PAGES)), key=lambda name: _familiar(telling, name))


def _familiar(data: bytes, code_page: str) -> float:
    """Share of familiar letters among those beyond ASCII; a capital counts half, for most letters are small."""
    unusual = Counter(letter for letter in data.decode(code_page, errors="replace") if not letter.isascii())
    known = sum(
        n * (1.0 if letter in _LETTERS else 0.5 if letter.lower() in _LETTERS else 0.0) for letter, n in unusual.items()
    )
    return known / max(unusual.total(), 1)


def read_text(data: bytes, filename: str = "") -> Sheet:
    """One table from delimited text.

    The separator is found from the text itself: the one that cuts most lines into the same number of cells, and cells
    that make sense. A name that ends in .tsv only decides between equals.

    Raises
    ------
    InvalidInput
        If the file is no text, holds too much, or has no separator; with the lines at fault.
    """
    text = decode(data).replace("\r\n", "\n").replace("\r", "\n")
    lines = text.split("\n")
    refuse_above(len(lines), MAX_ROWS, f"{len(lines):,} lines", "export a shorter span")
    if len(text) > MAX_LINE and (long := [i for i, line in enumerate(lines, 1) if len(line) > MAX_LINE]):
        raise InvalidInput(f"{named(long)}: longer than {MAX_LINE:,} characters; is this the export itself?")
    if told := _DIRECTIVE.fullmatch(lines[0].strip().strip('"')):
        lines[0] = ""
        separator, quote = told[1], '"'
    else:
        separator, quote = _separator(lines, "\t" if filename.lower().endswith((".tsv", ".tab")) else "")
    numbers, rows = _rows(lines, separator, quote)
    return checked("", numbers, rows)


def checked(name: str, numbers: list[int], rows: list[tuple[str, ...]]) -> Sheet:
    """A sheet within the limits and without blank rows."""
    kept = [k for k, row in enumerate(rows) if row and (row[0] or any(cell.strip() for cell in row))]
    if not kept:
        raise InvalidInput("the file has no row with anything in it; export it anew")
    if len(kept) < len(rows):
        rows, numbers = [rows[k] for k in kept], [numbers[k] for k in kept]
    width = max(map(len, rows))
    refuse_above(width, MAX_COLUMNS, f"{width:,} columns", "leave out columns that are not needed")
    refuse_above(len(rows), MAX_ROWS, f"{len(rows):,} rows", "export a shorter span")
    if long := [line for line, row in zip(numbers, rows, strict=True) if max(map(len, row)) > MAX_CELL]:
        raise InvalidInput(f"{named(long)}: a cell longer than {MAX_CELL:,} characters; is a quotation mark missing?")
    return Sheet(name, tuple(rows), tuple(numbers))


def _rows(lines: list[str], separator: str, quote: str) -> tuple[list[int], list[tuple[str, ...]]]:
    if separator == _SPACES:
        lines = [re.sub(r"\s{2,}", "\t", line.strip()) for line in lines]
        separator = "\t"
    elif separator == " ":
        lines = [" ".join(line.split()) for line in lines]
    text = "\n".join(lines)
    if quote not in text:
        return list(range(1, len(lines) + 1)), [tuple(line.split(separator)) for line in lines]
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, quotechar=quote, skipinitialspace=True)
    numbers, rows, before = [], [], 0
    try:
        for row in reader:
            numbers.append(before + 1)
            rows.append(tuple(row))
            before = reader.line_num
    except csv.Error:
        raise InvalidInput(
            f"line {before + 1}: a quotation mark is opened and never closed; close or remove it"
        ) from None
    return numbers, rows


def _separator(lines: list[str], preferred: str) -> tuple[str, str]:
    """Separator and quotation mark."""
    sample = [line for line in lines[: 4 * _SAMPLED_LINES] if line.strip()][:_SAMPLED_LINES]
    quote = "'" if not any('"' in line for line in sample) and _single_quoted(sample) else '"'
    shared = Counter(mark for line in sample for mark in set(line) if not mark.isalnum() and not mark.isspace())
    unusual = [mark for mark, n in shared.most_common(8) if 2 * n > len(sample)]
    candidates = dict.fromkeys((*_USUAL, *unusual))
    scores = {
        mark: _score(sample, mark, quote) + (0.01 if mark == preferred else 0.0)
        for mark in candidates
        if mark not in _NEVER
    }
    best = max(scores, key=lambda mark: scores[mark], default="")
    if not best or scores[best] <= 0:
        raise InvalidInput(
            "no separator cuts the lines of this file into columns; "
            "export it as CSV with commas, semicolons or tabs, or as .xlsx or .ods"
        )
    return best, quote


def _single_quoted(sample: list[str]) -> bool:
    return sum(bool(re.search(r"(?:^|\W)'[^']+'(?:\W|$)", line)) for line in sample) * 2 > len(sample)


def _score(sample: list[str], separator: str, quote: str) -> float:
    """How well a separator cuts: share of lines of the commonest width, times share of cells that make sense."""
    try:
        _, rows = _rows(sample, separator, quote)
    except InvalidInput:
        return 0.0
    widths = Counter(len(row) for row in rows if len(row) > 1)
    if not widths:
        return 0.0
    width, _ = max(widths.items(), key=lambda item: (item[1], item[0]))
    cells = [cell.strip() for row in rows if len(row) == width for cell in row]
    filled = [cell for cell in cells if cell]
    if not filled:
        return 0.0
    return widths[width] / len(rows) * _sense(filled) + 0.001 * min(width, 10)


def _sense(cells: list[str]) -> float:
    """Share of cells that are a number, a date or time, or words; words with punctuation in them count half."""
    parts = take_apart(cells)
    temporal = parts.dated | parts.timed
    worth = (
        1.0 if known or _NUMBER.fullmatch(cell) else _worth(cell) for cell, known in zip(cells, temporal, strict=True)
    )
    return sum(worth) / len(cells)


def _worth(cell: str) -> float:
    if any(letter.isdigit() for letter in cell):
        return float(unit_in(cell) is not None)
    return 0.0 if not words_in(cell) else 0.5 if set(cell) & _PUNCTUATION else 1.0
