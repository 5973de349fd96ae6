"""Sums that come out the same in any order: of parts rounded to a grid of whole numbers, or rounded once at the end."""

from math import fsum
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
_WIDEST = 2.0**62


def on_grid(values: Floats, bits: int) -> NDArray[Any]:
    """Nearest multiples of 2**-bits in units of it; Python's own integers where those of the machine could overflow.

    >>> on_grid(np.array([0.25, -1.0, 0.3]), 2).tolist()
    [1, -4, 1]
    """
    scaled = np.rint(values * 2.0**bits)
    if np.abs(scaled).max(initial=0.0) * max(scaled.size, 1) < _WIDEST:
        return scaled.astype(np.int64)
    return np.array([int(value) for value in scaled.ravel().tolist()], dtype=object).reshape(scaled.shape)


def grid_sums(values: Floats, starts: Ints, bits: int) -> list[list[int]]:
    """Whole-number sums of runs, a row a list.

    Parameters
    ----------
    values : ndarray, shape (n_rows, n)
    starts : ndarray of int, shape (n_runs,)
        Where each run begins, ascending; none is empty.
    bits : int
        The grid's.

    >>> grid_sums(np.array([[0.25, 0.5, 0.25]]), np.array([0, 2]), 2)
    [[3, 1]]
    """
    return [[int(total) for total in row] for row in np.add.reduceat(on_grid(values, bits), starts, axis=-1).tolist()]


def exact_sums(values: Floats, starts: Ints) -> Floats:
    """Sums of runs, each rounded once as by math.fsum, so that no order of a run changes a bit.

    Parameters
    ----------
    values : ndarray, shape (…, n)
    starts : ndarray of int, shape (n_runs,)
        Where each run begins, ascending; none is empty.

    Returns
    -------
    ndarray, shape (…, n_runs)

    >>> exact_sums(np.array([1.0, 1e100, 1.0, -1e100, 7.0]), np.array([0, 4])).tolist()
    [2.0, 7.0]
    """
    ends = np.append(starts[1:], values.shape[-1])
    sums = values[..., starts]  # runs of one are most of them
    two = ends - starts == 2
    sums[..., two] += values[..., starts[two] + 1]
    longer = np.flatnonzero(ends - starts > 2)
    if longer.size:
        runs = list(zip(starts[longer].tolist(), ends[longer].tolist(), strict=True))
        rows = values.reshape(-1, values.shape[-1])
        found = np.array([_run_sums(row.tolist(), runs) for row in rows])
        sums[..., longer] = found.reshape(*sums.shape[:-1], longer.size)
    return sums


def _run_sums(row: list[float], runs: list[tuple[int, int]]) -> list[float]:
    return [fsum(row[start:end]) for start, end in runs]


def squares(values: Floats) -> Floats:
    """Squares as Python's own power rounds them.

    The last bit of one in a thousand differs from a product, and sums sealed earlier hold the power.
    """
    rows = values.reshape(-1, max(values.shape[-1], 1))
    return np.array([[value**2 for value in row.tolist()] for row in rows]).reshape(values.shape)
