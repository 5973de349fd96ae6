"""How much an export may hold, and the words in which a file is refused.

A wear lasts days to weeks, so the figures are generous: 200,000 rows are 138 days at one reading a minute.
"""

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from pooling.errors import InvalidInput

MAX_BYTES = 20_000_000
MAX_ROWS = 200_000
MAX_COLUMNS = 200
MAX_CELL = 2_000
MAX_CELLS = 3_000_000  # of a sheet laid out in full
MAX_TEXT = 300_000_000  # letters of a sheet in which cells share or repeat their text
MAX_SHEETS = 20
MAX_UNPACKED_BYTES = 150_000_000
MAX_UNPACKED_RATIO = 250  # an honest workbook of repeating readings packs 5- to 60-fold
MAX_PACKED_FILES = 500

_SHOWN = 10


def refuse_above(found: int, limit: int, what: str, advice: str) -> None:
    """Raise InvalidInput when there is more of something than a file may hold."""
    if found > limit:
        raise InvalidInput(f"the file has {what}, and {limit:,} is the most that is read; {advice}")


def named(lines: Iterable[int] | NDArray[np.int64]) -> str:
    """Lines of the file in words, the first ten by number.

    Examples
    --------
    >>> named([7]), named([3, 4, 9])
    ('line 7', 'lines 3, 4, 9')
    """
    numbers = [int(line) for line in lines]
    shown = ", ".join(str(line) for line in numbers[:_SHOWN])
    more = f" and {len(numbers) - _SHOWN:,} more" if len(numbers) > _SHOWN else ""
    return f"{'line' if len(numbers) == 1 else 'lines'} {shown}{more}"


def at(lines: Iterable[int] | NDArray[np.int64], column: int) -> str:
    """A place in the file, with columns counted from 1 as a person counts them."""
    return f"{named(lines)}, column {column + 1}"
