"""Masking noise: what is added to a sum of values before it is stored, so that subtracting all others tells no more.

It is drawn from a key that lives as long as the cut-off. Who has the key can take the noise off again; it is never
stored, so afterwards nobody can.
"""

import hmac
from collections.abc import Collection, Mapping

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from pooling.sealing.version import FAMILIES, SealVersion

_BYTES, _BITS = 8, 53


class Masks:
    """Normal deviates by name. The same key and name give the same deviate, whatever else is sealed."""

    def __init__(self, key: bytes, version: SealVersion, family: str) -> None:
        self._key = key
        self._family = family
        self._root = np.linalg.cholesky(likeness(version, family))

    def draw(self, *name: str) -> Mapping[str, float]:
        """One deviate of variance 1 a channel of the family, as much alike as the channels' values of one person.

        Claim: whoever sees several channels of a sum learns no more of its last value than from one of them. Noise that
        is independent from channel to channel would cancel where channels say the same, as direct and the rates do;
        noise with the covariance of the values themselves leaves every combination as open as each.
        """
        channels = FAMILIES[self._family]
        plain = np.array([self._deviate(*name, channel) for channel in channels])
        return dict(zip(channels, (self._root @ plain).tolist(), strict=True))

    def draw_for(self, lives: Collection[int], *name: str) -> Mapping[str, float]:
        """The same for a sum over sensors of these rated lives; the last day of a common life has that life's deviate.

        The two are one number under two names, which two deviates would tell twice.
        """
        found = dict(self.draw(*name))
        if self._family == "survival" and len(lives) == 1:
            found |= {f"on{life}": found["on_rated"] for life in lives if f"on{life}" in found}
        return found

    def _deviate(self, *name: str) -> float:
        said = "|".join((self._family, *name)).encode()
        whole = int.from_bytes(hmac.digest(self._key, said, "sha256")[:_BYTES]) >> (8 * _BYTES - _BITS)
        return float(ndtri((whole + 0.5) / 2.0**_BITS))


def likeness(version: SealVersion, family: str) -> NDArray[np.float64]:
    """Correlations of masking noise between the channels of a family."""
    channels = FAMILIES[family]
    matrix = np.eye(len(channels))
    for (one, other), correlation in version.alike.items():
        if one in channels and other in channels:
            a, b = channels.index(one), channels.index(other)
            matrix[a, b] = matrix[b, a] = correlation
    return matrix
