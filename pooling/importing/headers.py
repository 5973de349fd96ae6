"""Where the readings of a table begin, and which row before them is its header."""

import re
from collections.abc import Sequence

import numpy as np

from pooling.importing import words
from pooling.importing.moments import take_apart
from pooling.importing.rows import Row
from pooling.importing.types import NUMBER
from pooling.importing.values import values

SEARCHED_ROWS = 100
_ELAPSED = re.compile(r"\d{1,4}:\d\d")  # hours may go beyond 24
_LOOKED_AT = 50  # cells of a row
_TITLES = frozenset().union(
    words.MOMENT,
    words.ELAPSED,
    words.GLUCOSE,
    words.VALUE,
    words.SENSOR,
    words.REFERENCE,
    words.INSERTED,
    words.WEAR,
)


def first_reading(rows: Sequence[Row]) -> int | None:
    """The first row with two cells that are numbers, marks, dates or times, followed by another such row.

    Examples
    --------
    >>> first_reading([("Made on", "1 March 2031"), ("time", "glucose"), ("2031-03-01 08:00", "112")])
    2
    """
    like = (place for place, row in enumerate(rows[:SEARCHED_ROWS]) if _like_a_reading(row))
    first = before = next(like, None)
    for place in like:
        if before is not None and place - before < 3:
            return before
        before = place
    return first


def _like_a_reading(row: Row) -> bool:
    cells = [cell for cell in row[:_LOOKED_AT] if cell.strip()]
    if len(cells) < 2:
        return False
    parts, read = take_apart(cells), values(cells, ",")
    when = parts.dated | parts.timed | np.array([bool(_ELAPSED.fullmatch(cell.strip())) for cell in cells])
    told = when | (read.kind >= NUMBER)
    firm = when.any() or (read.kind == NUMBER).sum() >= 2
    return bool(told.sum() >= 2 and firm)


def header_before(rows: Sequence[Row], start: int) -> int | None:
    """Of the three rows before the first reading the one with most header words, if it has two cells of words.

    Examples
    --------
    >>> header_before([("a list", ""), ("Zeit", "Wert"), ("", "mg/dL"), ("08:00", "112")], 3)
    1
    """
    best, most = None, 0
    for place in range(max(start - 3, 0), start):
        n_titles, n_worded = titles_in(rows[place])
        if n_worded >= 2 and n_titles and n_titles + n_worded >= most:
            best, most = place, n_titles + n_worded
    if best is None and start and titles_in(rows[start - 1])[1] >= 2:
        return start - 1
    return best


def titles_in(row: Row) -> tuple[int, int]:
    """How many cells have a header word, and how many have any word."""
    return sum(words.says(cell, _TITLES) for cell in row), sum(bool(words.words_in(cell)) for cell in row)
