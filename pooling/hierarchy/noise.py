"""Sampling noise as the pool tells it: what the variances that a seal version assumes are to be multiplied by."""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from pooling.sealing.records import BETWEEN_SUMS, SealedBundle
from pooling.sealing.version import ChannelConstants

Floats = NDArray[np.float64]

_ADDED = 2.0
"""Wearers added on either side of the pool's share."""

_SEEN = tuple(map(BETWEEN_SUMS.index, ("seen", "assumed")))
_FARTHEST = 5.0
"""Sampling variances further than this from the assumed ones are taken for masking noise."""


def seen_factors(bundles: Sequence[SealedBundle], channel: str) -> dict[int, float]:
    """Per version, sampling variances as readings tell them over those that were assumed, wearers added up.

    Examples
    --------
    >>> bundle = SealedBundle(4, 1, 9, {"direct": (0, 0, 0, 0, 0, 0, 600, 400)}, scope="everyone", kind="between")
    >>> seen_factors([bundle], "direct")
    {1: 1.5}
    """
    found = {}
    for number in sorted({bundle.seal_version for bundle in bundles}):
        own = [bundle.sums[channel] for bundle in bundles if bundle.seal_version == number]
        seen, assumed = (sum(sums[index] for sums in own) for index in _SEEN)
        found[number] = min(max(seen / assumed, 1 / _FARTHEST), _FARTHEST)
    return found


def noise_factors(shares: Floats, n_wearers: Floats, constants: Mapping[int, ChannelConstants]) -> dict[int, float]:
    """Turn the noise that each version assumed for 0 and 1 into that of the share seen.

    Claim: a value of 0 or 1 with chance p varies by p (1 - p). p is the pool's share with two wearers added on either
    side, so that a pool in which nobody, or everybody, had it does not count as known exactly. What people differ by
    lasts and is no noise of a wear: the part of p (1 - p) that the version assumes for it is left to the variances
    between people.

    Parameters
    ----------
    shares : ndarray, shape (cells,)
        Means of cells; masking noise may have taken them outside 0 to 1.
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
