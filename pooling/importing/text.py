"""Delimited text of any code page, separator and quoting → rows of cells."""

import re
from collections.abc import Sequence
from itertools import chain

from pooling.errors import InvalidInput
from pooling.importing.encoding import decode
from pooling.importing.limits import MAX_CELL, MAX_COLUMNS, MAX_ROWS, named, refuse_above
from pooling.importing.rows import Row, Rows, regular
from pooling.importing.separators import cut, separator_of
from pooling.importing.types import Sheet

_DIRECTIVE = re.compile(r"sep=(.)", re.IGNORECASE)
_HEAD = 40_000  # characters, from which the separator is found


def read_text(data: bytes, filename: str = "") -> Sheet:
    """One table from delimited text.

    The separator is found from the text itself; a name that ends in .tsv only decides between equals.

    Raises
    ------
    InvalidInput
        If the file is no text, holds too much, or has no separator; with the lines at fault.
    """
    text = decode(data).replace("\r\n", "\n").replace("\r", "\n")
    n_lines = text.count("\n") + 1
    refuse_above(n_lines, MAX_ROWS + 1, f"{n_lines:,} lines", "export a shorter span")
    head = text[:_HEAD].split("\n")
    if told := _DIRECTIVE.fullmatch(head[0].strip().strip('"')):
        text, separator, quote = text[len(head[0]) :], told[1], '"'
    else:
        separator, quote = separator_of(head, "\t" if filename.lower().endswith((".tsv", ".tab")) else "")
    if quote not in text and (even := regular(text, separator)):
        before, cells, width = even
        first = sheet_of("", *cut(before, separator, quote)) if before else Sheet("", (), ())
        lines = (*first.lines, *range(len(before) + 1, len(before) + 1 + len(cells) // width))
        return _within_limits(Sheet("", Rows(first.rows, cells, width), lines), width)
    return sheet_of("", *cut(text.split("\n"), separator, quote))


def sheet_of(name: str, numbers: Sequence[int], rows: Sequence[Row]) -> Sheet:
    """A sheet without blank rows.

    Raises
    ------
    InvalidInput
        If it holds more than the limits allow.
    """
    kept = [k for k, row in enumerate(rows) if any(cell and not cell.isspace() for cell in row)]
    lines = tuple(numbers[k] for k in kept)
    filled = tuple(rows[k] for k in kept)
    if max(map(len, chain.from_iterable(filled)), default=0) > MAX_CELL:
        long = [line for line, row in zip(lines, filled, strict=True) if any(len(cell) > MAX_CELL for cell in row)]
        raise InvalidInput(f"{named(long)}: a cell longer than {MAX_CELL:,} characters; send the export as it was made")
    return _within_limits(Sheet(name, filled, lines), max(map(len, filled), default=0))


def _within_limits(sheet: Sheet, width: int) -> Sheet:
    refuse_above(width, MAX_COLUMNS, f"{width:,} columns", "leave out columns that are not needed")
    refuse_above(len(sheet.rows), MAX_ROWS, f"{len(sheet.rows):,} rows", "export a shorter span")
    return sheet
