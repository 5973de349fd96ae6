"""Wears as numbers with known sampling variances: the values that sealing adds up, of many wears at once."""

from collections.abc import Sequence
from math import isfinite, log
from operator import attrgetter
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pooling.errors import InvalidInput
from pooling.sealing.grid import Floats, Ints
from pooling.sealing.version import CHANNELS, FEWEST_PAIRS, ChannelConstants, SealVersion, log_chi_square_moments


class StratumLike(Protocol):
    """What sealing reads of one stratum: sums over its pairs (y the log ratio, d the absolute relative difference)."""

    @property
    def n_pairs(self) -> int: ...
    @property
    def m(self) -> float: ...
    @property
    def s(self) -> float: ...
    @property
    def m4(self) -> float: ...
    @property
    def a1(self) -> float: ...
    @property
    def a2(self) -> float: ...
    @property
    def k15(self) -> int: ...
    @property
    def k20(self) -> int: ...


class Strata(NamedTuple):
    """Strata of many wears: each number an array of shape (n_wears,)."""

    n_pairs: Ints
    m: Floats
    s: Floats
    m4: Floats
    a1: Floats
    a2: Floats
    k15: Floats
    k20: Floats

    def __repr__(self) -> str:
        return "Strata()"  # they are of single people

    @classmethod
    def of(cls, strata: Sequence[StratumLike]) -> "Strata":
        """Lay out wears side by side.

        Raises
        ------
        InvalidInput
            One has fewer than eight pairs, or its log ratios are all the same.
        """
        if not all(map(has_accuracy, strata)):
            raise InvalidInput(f"a wear has no value for accuracy; it needs {FEWEST_PAIRS} pairs, not all alike")
        rows = np.array([_read(stratum) for stratum in strata], dtype=np.float64).reshape(-1, len(cls._fields))
        n_pairs, *others = rows.T
        return cls(n_pairs.astype(np.int64), *others)


_read = attrgetter(*Strata._fields)


class WearValues(NamedTuple):
    """Values of wears in the channels of a family, each array of shape (n_channels, n_wears)."""

    value: Floats
    """Less the version's reference; whatever, where there is none."""
    noise: Floats
    """Sampling variance."""
    assumed: Floats
    """The same from the frozen constants."""
    weight: Floats
    held: NDArray[np.bool_]
    """Whether the wear has a value."""

    def __repr__(self) -> str:
        return "WearValues()"  # they are of single people


def has_accuracy(stratum: StratumLike) -> bool:
    """Whether a wear can enter the accuracy sums: at least eight pairs whose log ratios are not all the same."""
    return stratum.n_pairs >= FEWEST_PAIRS and isfinite(stratum.s) and stratum.s > 0


def assumed_noise(channel: str, n_pairs: ArrayLike, version: SealVersion) -> Floats:
    """Sampling variances that the version assumes for wears with n pairs: the only variances that form a weight."""
    n = np.asarray(n_pairs)
    noise = version.channels[channel].noise / n
    return noise + log_variance_moments(n)[1] if channel == "dispersion" else noise


def log_variance_moments(n_pairs: NDArray[np.int64]) -> tuple[Floats, Floats]:
    """Mean and variance of `log_chi_square_moments` for each number of pairs."""
    distinct, place = np.unique(n_pairs, return_inverse=True)
    found = np.array([log_chi_square_moments(n) for n in distinct.tolist()]).reshape(-1, 2)[place]
    return found[..., 0], found[..., 1]


def weights(assumed: Floats, constants: ChannelConstants) -> Floats:
    """Of wears: one over the variance assumed of a wear about its wearer's level at the cell."""
    return 1.0 / (constants.wear_sd**2 + assumed)


def wear_values(strata: Strata, n_far: Ints, version: SealVersion) -> WearValues:
    """Return value, sampling variance and weight of wears in every channel of accuracy, in the order of CHANNELS.

    Weights are functions of the number of pairs alone. A weight taken from a wear's own readings would favour the wears
    that happen to look good. The sampling variances of location and direct are the usual unbiased ones from the
    wear's own readings; they are only ever added up, never divided by.

    location: mean log ratio. dispersion: log variance of log ratios, corrected for its bias in small samples. direct:
    mean absolute relative difference as a fraction, in absolute units and not relative to a pool, so that records of
    two pools add up. rate15, rate20: share of pairs inside the rule. tail: share of pairs far off.

    Parameters
    ----------
    strata : Strata of n_wears
        Sums over each wear's pairs.
    n_far : ndarray of int, shape (n_wears,)
        Pairs in zones C to E of the consensus grid.
    version : SealVersion
        The frozen constants.
    """
    n, s, a1 = strata.n_pairs, strata.s, strata.a1
    bias, log_variance_noise = log_variance_moments(n)
    log_variance = np.array([log(value) for value in (s / (n - 1)).tolist()])  # numpy's may round otherwise
    assumed = np.array([assumed_noise(channel, n, version) for channel in CHANNELS])
    of_rule = dict(zip(CHANNELS, assumed, strict=True))
    found = {
        "location": (strata.m, s / ((n - 1) * n)),
        "dispersion": (
            log_variance - bias + version.kurtosis / (2 * n),
            log_variance_noise + version.kurtosis / n,
        ),
        "direct": (a1 / n, np.maximum(strata.a2 - a1 * a1 / n, 0.0) / ((n - 1) * n)),
        "rate15": (strata.k15 / n, of_rule["rate15"]),
        "rate20": (strata.k20 / n, of_rule["rate20"]),
        "tail": (n_far / n, of_rule["tail"]),
    }
    constants = [version.channels[channel] for channel in CHANNELS]
    return WearValues(
        np.array([found[channel][0] - own.reference for channel, own in zip(CHANNELS, constants, strict=True)]),
        np.array([found[channel][1] for channel in CHANNELS]),
        assumed,
        np.array([weights(noise, own) for noise, own in zip(assumed, constants, strict=True)]),
        np.ones((len(CHANNELS), n.size), dtype=bool),
    )


def kurtosis_parts(strata: Strata) -> Floats:
    """Unbiased fourth cumulants over squared variances of wears' log ratios (k-statistics; eight pairs or more).

    Fisher's k4 (R. A. Fisher 1929, Proc. London Math. Soc. s2-30, 199-238; formula from memory).
    """
    n = strata.n_pairs
    fourth, second = strata.m4 / n, strata.s / n
    k4 = n * n * ((n + 1) * fourth - 3 * (n - 1) * second * second) / ((n - 1) * (n - 2) * (n - 3))
    k2 = strata.s / (n - 1)
    return k4 / (k2 * k2)
