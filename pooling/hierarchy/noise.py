"""Sampling noise of what a wear has or has not: it follows from the share itself, which sealing cannot know."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

from pooling.sealing.version import ChannelConstants

Floats = NDArray[np.float64]

_ADDED = 2.0
"""Wearers added on either side of the pool's share."""
_POOL_WEARERS = 20.0
"""How many wearers of a cell the pool's share counts for beside its own."""


@dataclass(frozen=True)
class NoiseFactors:
    """What sealed sampling variances are multiplied by, per seal version: in each cell, and over all cells."""

    cells: Mapping[int, Floats]
    pool: Mapping[int, float]

    @classmethod
    def none(cls, n_cells: int, versions: Iterable[int]) -> Self:
        """Factors of a channel whose noise is known otherwise."""
        versions = tuple(versions)
        return cls({number: np.ones(n_cells) for number in versions}, dict.fromkeys(versions, 1.0))


def factors_of(shares: Floats, n_wearers: Floats, constants: Mapping[int, ChannelConstants]) -> NoiseFactors:
    """Turn the noise that each version assumed for 0 and 1 into that of the shares seen.

    Claim: a value of 0 or 1 with chance p varies by p (1 - p). p is a cell's share drawn towards the pool's, and the
    pool's has two wearers added on either side, so that a pool in which nobody, or everybody, had it does not count as
    known exactly. What people differ by lasts and is no noise of a wear: the part of p (1 - p) that the version
    assumes for it is left to the variances between people.

    Parameters
    ----------
    shares : ndarray, shape (cells,)
        Means of cells; rounding may have taken them outside 0 to 1.
    n_wearers : ndarray, shape (cells,)
    constants : mapping of seal version to ChannelConstants
        noise is the assumed p (1 - p).

    Notes
    -----
    Agresti and Coull (1998), The American Statistician 52, 119-126, for the four added people. Drawing to the pool
    with the weight of 20 is common practice, no source.

    Examples
    --------
    >>> from pooling.sealing import SEAL_VERSION_1
    >>> made = factors_of(np.array([0.85]), np.array([1e6]), {1: SEAL_VERSION_1.channels["on_rated"]})
    >>> round(made.pool[1], 3)
    0.859
    """
    held = np.clip(shares, 0.0, 1.0)
    total = n_wearers.sum()
    pool = (held @ n_wearers + _ADDED) / (total + 2 * _ADDED)
    drawn = (held * n_wearers + _POOL_WEARERS * pool) / (n_wearers + _POOL_WEARERS)
    left = {number: 1 / own.noise - own.person_variance / own.noise**2 for number, own in constants.items()}
    return NoiseFactors(
        {number: factor * drawn * (1 - drawn) for number, factor in left.items()},
        {number: float(factor * pool * (1 - pool)) for number, factor in left.items()},
    )
