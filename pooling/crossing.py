"""The pairs of a wear by phase, reference range and prompt at once: what sums over parts of wears are made of."""

from itertools import product

import numpy as np
from numpy.typing import NDArray

from pooling.accuracy import Floats
from pooling.quiet import Quiet
from pooling.stratum import PairErrors

Ints = NDArray[np.int64]

PARTITIONS: dict[str, tuple[str, ...]] = {
    "phase": ("day1", "days2_7", "day8_on"),
    "range": ("reference_low", "reference_mid", "reference_high"),
    "prompt": ("scheduled", "doubt", "other"),
}
"""Each pair is in one part of each partition."""

CROSSED: tuple[tuple[str, ...], ...] = tuple(product(*PARTITIONS.values()))
"""The cells of all partitions at once, in the order of their numbers."""


class Crossed(Quiet, frozen=True, gc=False):
    """Sums over the pairs of a wear in one cell.

    y is the log ratio, d the absolute relative difference. Of the pairs in which the sensor showed a mark instead of a
    number only `n_shown` and `shown_low` know.
    """

    n_pairs: int = 0
    y: float = 0.0
    d: float = 0.0
    k15: int = 0
    k20: int = 0
    n_shown: int = 0
    shown_low: int = 0

    def __add__(self, other: "Crossed") -> "Crossed":
        return Crossed(
            self.n_pairs + other.n_pairs,
            self.y + other.y,
            self.d + other.d,
            self.k15 + other.k15,
            self.k20 + other.k20,
            self.n_shown + other.n_shown,
            self.shown_low + other.shown_low,
        )


def cell_of(phase: Ints, reference_range: Ints, prompt: Ints) -> Ints:
    """Number of the cell, from the places of the parts in their partitions.

    >>> CROSSED[int(cell_of(np.array(1), np.array(0), np.array(2)))]
    ('days2_7', 'reference_low', 'other')
    """
    return (phase * len(PARTITIONS["range"]) + reference_range) * len(PARTITIONS["prompt"]) + prompt


def crossed(
    errors: PairErrors, *, numbered: NDArray[np.bool_], cell: Ints, shown_low: NDArray[np.bool_]
) -> dict[int, Crossed]:
    """Sums of every cell that has a pair.

    Parameters
    ----------
    errors : PairErrors
        Of the pairs in which the sensor showed a number and no mark.
    numbered : ndarray of bool, shape (n_pairs,)
        Which of all pairs these are; marked ones are among them.
    cell : ndarray of int, shape (n_pairs,)
        The number of each pair's cell.
    shown_low : ndarray of bool, shape (n_pairs,)
        Whether the sensor showed a low.

    Returns
    -------
    dict from cell number to Crossed, ascending
    """
    numbered_cell = cell[numbered]
    n_shown = _counts(cell)
    found = n_shown.nonzero()[0]
    sums = (
        _counts(numbered_cell),
        _added(numbered_cell, errors.y),
        _added(numbered_cell, errors.d),
        _counts(numbered_cell[errors.within_15]),
        _counts(numbered_cell[errors.within_20]),
        n_shown,
        _counts(cell[shown_low]),
    )
    rows = zip(*(each[found].tolist() for each in sums), strict=True)
    return {index: Crossed(*row) for index, row in zip(found.tolist(), rows, strict=True)}


def _counts(cell: Ints) -> Ints:
    return np.bincount(cell, minlength=len(CROSSED))


def _added(cell: Ints, values: Floats) -> Floats:
    # Of no pair at all the zeros are whole numbers.
    return np.bincount(cell, values, len(CROSSED)).astype(np.float64, copy=False)


def added(a: dict[int, Crossed], b: dict[int, Crossed]) -> dict[int, Crossed]:
    """The cells of two parts of one wear."""
    return {index: a.get(index, Crossed()) + b.get(index, Crossed()) for index in sorted({*a, *b})}
