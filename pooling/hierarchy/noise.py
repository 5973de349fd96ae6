"""Sampling noise of what a wear has or has not: it follows from the share itself, which sealing cannot know."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from pooling.sealing.version import ChannelConstants

Floats = NDArray[np.float64]

_ADDED = 2.0
"""Wearers added on either side of the pool's share."""


def noise_factors(shares: Floats, n_wearers: Floats, constants: Mapping[int, ChannelConstants]) -> dict[int, float]:
    """Turn the noise that each version assumed for 0 and 1 into that of the share seen.

    Claim: a value of 0 or 1 with chance p varies by p (1 - p). p is the pool's share with two wearers added on either
    side, so that a pool in which nobody, or everybody, had it does not count as known exactly. What people differ by
    lasts and is no noise of a wear: the part of p (1 - p) that the version assumes for it is left to the variances
    between people.

    Parameters
    ----------
    shares : ndarray, shape (cells,)
        Means of cells; rounding may have taken them outside 0 to 1.
    n_wearers : ndarray, shape (cells,)
    constants : mapping of seal version to ChannelConstants
        noise is the assumed p (1 - p).

    Returns
    -------
    dict of int to float
        Per version, what its sampling variances are multiplied by.

    Notes
    -----
    Agresti and Coull (1998), The American Statistician 52, 119-126, for the four added people. One p for all cells: a
    cell's own would make those sure that happen to look good, and with small cells that biases what is drawn together.

    Examples
    --------
    >>> from pooling.sealing import SEAL_VERSION_1
    >>> made = noise_factors(np.array([0.85]), np.array([1e6]), {1: SEAL_VERSION_1.channels["on_rated"]})
    >>> round(made[1], 3)
    0.859
    """
    pool = (np.clip(shares, 0.0, 1.0) @ n_wearers + _ADDED) / (n_wearers.sum() + 2 * _ADDED)
    left = {number: 1 / own.noise - own.person_variance / own.noise**2 for number, own in constants.items()}
    return {number: float(factor * pool * (1 - pool)) for number, factor in left.items()}
