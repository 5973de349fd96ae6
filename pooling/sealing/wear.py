"""One wear as five numbers with a known sampling variance: the values that sealing adds up."""

from math import isfinite, log
from typing import NamedTuple, Protocol

from pooling.errors import InvalidInput
from pooling.sealing.version import CHANNELS, FEWEST_PAIRS, SealVersion, log_chi_square_moments


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


class WearValue(NamedTuple):
    """Value of one wear in one channel, its sampling variance and its weight."""

    value: float
    noise: float
    weight: float

    def __repr__(self) -> str:
        return "WearValue()"  # it is of one person


def has_accuracy(stratum: StratumLike) -> bool:
    """Whether a wear can enter the accuracy sums: at least eight pairs whose log ratios are not all the same."""
    return stratum.n_pairs >= FEWEST_PAIRS and isfinite(stratum.s) and stratum.s > 0


def assumed_noise(channel: str, n_pairs: int, version: SealVersion) -> float:
    """Sampling variance that the version assumes for a wear with n pairs: the only variance that forms a weight."""
    noise = version.channels[channel].noise / n_pairs
    return noise + log_chi_square_moments(n_pairs)[1] if channel == "dispersion" else noise


def wear_values(stratum: StratumLike, n_far: int, version: SealVersion) -> dict[str, WearValue]:
    """Return value, sampling variance and weight of one wear in every channel.

    Weights are functions of the number of pairs alone. A weight taken from a wear's own readings would favour the wears
    that happen to look good. The sampling variances of location and direct are the usual unbiased ones from the
    wear's own readings; they are only ever added up, never divided by.

    Parameters
    ----------
    stratum : StratumLike
        Sums over the wear's pairs; at least eight pairs.
    n_far : int
        Pairs in zones C to E of the consensus grid.
    version : SealVersion
        The frozen constants.

    Returns
    -------
    dict of str to WearValue
        One entry per channel. location: mean log ratio. dispersion: log variance of log ratios, corrected for its
        bias in small samples. direct: mean absolute relative difference as a fraction, in absolute units and not
        relative to a pool, so that records of two pools add up. rate15, rate20: share of pairs inside the rule. tail:
        share of pairs far off.

    Raises
    ------
    InvalidInput
        The wear has fewer than eight pairs, or its log ratios are all the same.
    """
    if not has_accuracy(stratum):
        raise InvalidInput(f"a wear needs {FEWEST_PAIRS} pairs that are not all alike; this one has {stratum.n_pairs}")
    n = stratum.n_pairs
    bias, log_variance_noise = log_chi_square_moments(n)
    d_squares = max(stratum.a2 - stratum.a1 * stratum.a1 / n, 0.0)
    found = {
        "location": (stratum.m, stratum.s / ((n - 1) * n)),
        "dispersion": (
            log(stratum.s / (n - 1)) - bias + version.kurtosis / (2 * n),
            log_variance_noise + version.kurtosis / n,
        ),
        "direct": (stratum.a1 / n, d_squares / ((n - 1) * n)),
        "rate15": (stratum.k15 / n, assumed_noise("rate15", n, version)),
        "rate20": (stratum.k20 / n, assumed_noise("rate20", n, version)),
        "tail": (n_far / n, assumed_noise("tail", n, version)),
    }
    return {
        channel: WearValue(
            found[channel][0] - version.channels[channel].reference,
            found[channel][1],
            1.0 / (version.channels[channel].wear_sd ** 2 + assumed_noise(channel, n, version)),
        )
        for channel in CHANNELS
    }


def kurtosis_parts(stratum: StratumLike) -> float:
    """Unbiased fourth cumulant over squared variance of one wear's log ratios (k-statistics; eight pairs or more).

    Fisher's k4 (R. A. Fisher 1929, Proc. London Math. Soc. s2-30, 199-238; formula from memory).
    """
    n = stratum.n_pairs
    fourth, second = stratum.m4 / n, stratum.s / n
    k4 = n * n * ((n + 1) * fourth - 3 * (n - 1) * second * second) / ((n - 1) * (n - 2) * (n - 3))
    k2 = stratum.s / (n - 1)
    return k4 / (k2 * k2)
