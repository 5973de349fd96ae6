"""Rows of a regular text, kept as one list of cells: a column is a slice, a row is made when somebody looks at it."""

from collections.abc import Iterator, Sequence
from typing import overload

import numpy as np

from pooling.importing.limits import MAX_CELL

Row = tuple[str, ...]


class Rows(Sequence[Row]):
    """Some rows of any width, then many of the same width; equal to a tuple of the same rows, and shows no cell.

    Examples
    --------
    >>> rows = Rows((("a note",),), ["1", "2", "3", "4"], 2)
    >>> len(rows), rows[1], rows[-1], rows.column(0), rows == (("a note",), ("1", "2"), ("3", "4"))
    (3, ('1', '2'), ('3', '4'), ['a note', '1', '3'], True)
    """

    __slots__ = ("_cells", "_head", "width")

    def __init__(self, head: Sequence[Row], cells: list[str], width: int) -> None:
        self._head, self._cells, self.width = tuple(head), cells, width

    def __len__(self) -> int:
        return len(self._head) + len(self._cells) // self.width

    @overload
    def __getitem__(self, place: int) -> Row: ...
    @overload
    def __getitem__(self, place: slice) -> Sequence[Row]: ...
    def __getitem__(self, place: int | slice) -> Row | Sequence[Row]:
        if isinstance(place, slice):
            start, stop, step = place.indices(len(self))
            if step == 1 and stop == len(self):
                skipped = max(start - len(self._head), 0) * self.width
                return Rows(self._head[start:], self._cells[skipped:], self.width)
            return tuple(self[k] for k in range(start, stop, step))
        at = place + len(self) if place < 0 else place
        if not 0 <= at < len(self):
            raise IndexError(place)
        if at < len(self._head):
            return self._head[at]
        first = (at - len(self._head)) * self.width
        return tuple(self._cells[first : first + self.width])

    def __iter__(self) -> Iterator[Row]:
        yield from self._head
        yield from zip(*[iter(self._cells)] * self.width, strict=True)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sequence) and tuple(self) == tuple(other)

    __hash__ = None  # type: ignore[assignment]

    def __repr__(self) -> str:
        return f"Rows({len(self)} of up to {self.width} cells)"

    @property
    def widest(self) -> int:
        return max((self.width, *map(len, self._head)))

    def column(self, column: int) -> list[str]:
        """One column; a row that is too short has an empty cell there."""
        head = [row[column] if column < len(row) else "" for row in self._head]
        body = self._cells[column :: self.width] if column < self.width else [""] * (len(self) - len(head))
        return head + body if head else body


def regular(text: str, separator: str) -> tuple[list[str], list[str], int] | None:
    """Text without quotation marks, if after some lines of its own all lines have equally many cells.

    Returns
    -------
    lines before, cells of the others, cells a line
        Or None where lines are uneven to the end, where any after the beginning has an empty first cell, or where one
        is so long that its cells have to be looked at.

    Examples
    --------
    >>> regular("a note\\n1;2\\n3;4\\n", ";")
    (['a note'], ['1', '2', '3', '4'], 2)
    """
    if len(separator) != 1 or not separator.isascii():
        return None
    text = text.rstrip("\n")
    raw = np.frombuffer(text.encode("utf-8", "replace"), np.uint8)
    ends = raw == 10
    if np.diff(np.flatnonzero(ends), prepend=0, append=raw.size).max() > MAX_CELL:
        return None
    widths = np.diff(np.flatnonzero(np.r_[True, ends[ends | (raw == ord(separator))], True]))
    odd = np.flatnonzero(widths != widths[-1])
    n_before = int(odd[-1]) + 1 if odd.size else 0
    if widths[-1] < 2 or n_before > widths.size // 2:
        return None
    *before, body = text.split("\n", n_before)
    cells = body.replace("\n", separator).split(separator)
    return (before, cells, int(widths[-1])) if all(cells[:: widths[-1]]) else None
