"""The pairs of a wear by phase, reference range and prompt at once: what sums over parts of wears are made of."""

from itertools import product

import numpy as np
from numpy.typing import NDArray

from pooling.accuracy import Floats, within_rule
from pooling.quiet import Quiet

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
    reference: Floats, sensor: Floats, *, numbered: NDArray[np.bool_], cell: Ints, shown_low: NDArray[np.bool_]
) -> dict[int, Crossed]:
    """Sums of every cell that has a pair.

    Parameters
    ----------
    reference, sensor : ndarray, shape (n_pairs,), mg/dL
        Pairs that count; marked ones among them.
    numbered : ndarray of bool, shape (n_pairs,)
        Whether the sensor showed a number and no mark.
    cell : ndarray of int, shape (n_pairs,)
        The number of each pair's cell.
    shown_low : ndarray of bool, shape (n_pairs,)
        Whether the sensor showed a low.

    Returns
    -------
    dict from cell number to Crossed, ascending
    """
    reference, sensor = reference[numbered], sensor[numbered]
    values = (
        np.ones(reference.size),
        np.log(sensor / reference),
        np.abs(sensor / reference - 1),
        within_rule(reference, sensor, 15),
        within_rule(reference, sensor, 20),
    )
    n, y, d, k15, k20 = (np.bincount(cell[numbered], value, len(CROSSED)) for value in values)
    n_shown, low = np.bincount(cell, minlength=len(CROSSED)), np.bincount(cell, shown_low, len(CROSSED))
    return {
        int(index): Crossed(
            int(n[index]),
            float(y[index]),
            float(d[index]),
            int(k15[index]),
            int(k20[index]),
            int(n_shown[index]),
            int(low[index]),
        )
        for index in np.flatnonzero(n_shown)
    }


def added(a: dict[int, Crossed], b: dict[int, Crossed]) -> dict[int, Crossed]:
    """The cells of two parts of one wear."""
    return {index: a.get(index, Crossed()) + b.get(index, Crossed()) for index in sorted({*a, *b})}
