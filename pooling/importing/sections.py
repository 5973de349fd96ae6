"""Several tables below one another in one text."""

import numpy as np

from pooling.importing.headers import first_reading, titles_in
from pooling.importing.types import Sheet
from pooling.importing.words import plain

_TITLE_ROWS = 3


def sections(sheet: Sheet) -> tuple[Sheet, ...]:
    """The tables of a text, cut where a header of its own follows a blank line; the sheet itself if there is one.

    A header that stood there before only goes on with its table, and rows before the first reading stay with what
    follows.

    Examples
    --------
    >>> rows = (("time", "sensor"), ("08:00", "98"), ("time", "finger"), ("08:00", "112"))
    >>> [table.rows[0][1] for table in sections(Sheet("", rows, (1, 2, 4, 5)))]
    ['sensor', 'finger']
    """
    lines = sheet.lines
    if not lines or lines[-1] - lines[0] == len(lines) - 1:
        return (sheet,)
    after_gap = np.flatnonzero(np.diff(lines) > 1) + 1
    known, cuts = set[tuple[str, ...]](), [0]
    for place in (0, *after_gap.tolist()):
        header = _header_near(sheet, place)
        if header is not None and header not in known:
            if place and first_reading(sheet.rows[cuts[-1] : place]) is not None:
                cuts.append(place)
            known.add(header)
    if len(cuts) == 1:
        return (sheet,)
    ends = (*cuts[1:], len(lines))
    return tuple(
        Sheet(f"table {number}", tuple(sheet.rows[start:end]), lines[start:end])
        for number, (start, end) in enumerate(zip(cuts, ends, strict=True), start=1)
    )


def _header_near(sheet: Sheet, place: int) -> tuple[str, ...] | None:
    """A row of two header words or more among the first few, if readings follow it."""
    rows = sheet.rows[place : place + _TITLE_ROWS]
    for row in rows:
        if titles_in(row)[0] >= 2 and first_reading(sheet.rows[place : place + 2 * _TITLE_ROWS]) is not None:
            return tuple(plain(cell.strip()) for cell in row)
    return None
