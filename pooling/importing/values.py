"""Readings, a whole column at a time: numbers, marks in several languages, and cells that hold neither."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pooling.importing.distinct import distinct
from pooling.importing.types import ABOVE, BELOW, NUMBER
from pooling.importing.words import ABOVE as ABOVE_WORDS
from pooling.importing.words import BELOW as BELOW_WORDS
from pooling.importing.words import NO_READING, plain, says

EMPTY, UNREADABLE = -1, -2
_NUMBER = re.compile(r"'?([+-]?\d{1,9}(?:[.,]\d{0,20})?)\s*(?:mg|mmol|%|min|h|d|$)[\w\s/.%]{0,12}")
_LONGEST = 40
_COMMA_NUMBER = re.compile(r"\d,\d")


@dataclass(frozen=True, slots=True)
class Values:
    """A column of readings; both arrays have shape (n_cells,).

    number : float64, NaN where there is none
    kind : 0 a number, 1 below range, 2 above range, -1 no reading, -2 cannot be read
    """

    number: NDArray[np.float64]
    kind: NDArray[np.int8]


def values(cells: Sequence[str], decimal: str) -> Values:
    """Read a column; each distinct cell is looked at once.

    Examples
    --------
    >>> read = values(["5,4", "LO", "> 22,2", "", "lunch"], ",")
    >>> read.number.tolist(), read.kind.tolist()
    ([5.4, nan, nan, nan, nan], [0, 1, 2, -1, -2])
    """
    codes, found = distinct(cells)
    pairs = [_value(cell, decimal) for cell in found]
    number = np.array([number for number, _ in pairs], dtype=np.float64)
    kind = np.array([kind for _, kind in pairs], dtype=np.int8)
    return Values(number[codes], kind[codes])


def has_decimal_comma(cells: Sequence[str]) -> bool:
    return any(_COMMA_NUMBER.search(cell) for cell in set(cells))


def _value(cell: str, decimal: str) -> tuple[float, int]:
    text = cell.strip()
    if len(text) > _LONGEST:
        return np.nan, UNREADABLE
    text = plain(text)
    if text in NO_READING:
        return np.nan, EMPTY
    if match := _NUMBER.fullmatch(text):
        if "," in match[1] and decimal != ",":
            return np.nan, UNREADABLE
        return float(match[1].replace(",", ".")), NUMBER
    below = text.startswith(("<", "≤")) or says(text, BELOW_WORDS)
    above = text.startswith((">", "≥")) or says(text, ABOVE_WORDS)
    if below != above:
        return np.nan, BELOW if below else ABOVE
    return np.nan, UNREADABLE
