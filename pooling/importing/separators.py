"""Where the lines of delimited text are to be cut."""

import csv
import io
import re
from collections import Counter

from pooling.errors import InvalidInput
from pooling.importing.moments import take_apart
from pooling.importing.words import unit_in, words_in

_SAMPLED_LINES = 60
_SPACES = "  "  # stands for two spaces or more
_USUAL = (";", "\t", ",", "|", _SPACES, " ")
_NEVER = frozenset("\"'.+-:/()[]%\\<>_@#?$€°")
_PUNCTUATION = frozenset(";,\t|")
_NUMBER = re.compile(r"[<>≤≥]?\s*[+-]?\d+(?:[.,]\d+)?")


def cut(lines: list[str], separator: str, quote: str) -> tuple[list[int], list[tuple[str, ...]]]:
    """Line numbers, counted from 1, and cells of each record.

    Raises
    ------
    InvalidInput
        If a quotation mark is never closed; with its line.
    """
    if separator == _SPACES:
        lines = [re.sub(" {2,}", "\t", line.strip(" ")) for line in lines]
        separator = "\t"
    elif separator == " ":
        lines = [re.sub(" +", " ", line.strip(" ")) for line in lines]
    text = "\n".join(lines)
    if quote not in text:
        return list(range(1, len(lines) + 1)), [tuple(line.split(separator)) for line in lines]
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, quotechar=quote, skipinitialspace=True)
    numbers, rows, ends = [], [], [0]
    try:
        for row in reader:
            numbers.append(ends[-1] + 1)
            rows.append(tuple(row))
            ends.append(reader.line_num)
    except csv.Error:
        raise _never_closed(ends[-1] + 1) from None
    if quote == '"' and text.count(quote) % 2 and ends[-1] - numbers[-1] > 0:
        raise _never_closed(numbers[-1])
    return numbers, rows


def _never_closed(line: int) -> InvalidInput:
    return InvalidInput(f"line {line}: a quotation mark is opened and never closed; close or remove it")


def separator_of(lines: list[str], preferred: str) -> tuple[str, str]:
    """Separator and quotation mark of delimited text, found from its first lines.

    The separator is the one that cuts most lines into the same number of cells, and into cells that make sense; one
    that does so without exception is taken before others are tried. `preferred` decides between equals.

    Raises
    ------
    InvalidInput
        If none cuts the lines at all.

    Examples
    --------
    >>> separator_of(["Zeit;Wert", "01.03.2031 08:00;5,4", "01.03.2031 08:05;5,6"], "")
    (';', '"')
    """
    sample = [line for line in lines[: 4 * _SAMPLED_LINES] if line.strip()][:_SAMPLED_LINES]
    quote = "'" if not any('"' in line for line in sample) and _single_quoted(sample) else '"'
    shared = Counter(mark for line in sample for mark in set(line) if not mark.isalnum() and not mark.isspace())
    unusual = [mark for mark, n in shared.most_common(8) if 2 * n > len(sample)]
    scores: dict[str, float] = {}
    for mark in dict.fromkeys((*_USUAL, *unusual)):
        if mark in _NEVER or not any(mark in line for line in sample):
            continue
        scores[mark] = _score(sample, mark, quote) + (0.01 if mark == preferred else 0.0)
        if scores[mark] >= 1.0:
            return mark, quote
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
        _, rows = cut(sample, separator, quote)
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
