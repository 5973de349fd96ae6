"""Frozen constants of sealing: what every record of one version has in common."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from math import fsum, log
from types import MappingProxyType

from scipy.special import digamma, polygamma

DAYS_ON = (3, 7, 10, 14)
"""Days on which it is counted whether the sensor was still on the skin."""

CHANNELS = ("location", "dispersion", "direct", "rate15", "rate20", "tail")
"""Accuracy: bias, spread, mean absolute relative difference, two agreement rates, readings far off (zones C to E)."""

FAMILIES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "accuracy": CHANNELS,
        "survival": (
            *(f"on{day}" for day in DAYS_ON),
            "on_rated",
            "off_adhesive",
            "off_device",
            "off_body",
        ),
        "skin": ("reaction",),
        "ease": ("ease",),
        "comfort": ("comfort",),
        "discretion": ("discretion",),
    }
)
"""Outcomes that are admitted each by a ledger of its own, and the channels of each."""

FEWEST_PEOPLE: Mapping[str, int] = MappingProxyType({"skin": 10, "ease": 10, "comfort": 10, "discretion": 10})
"""Families whose sums need more people than a group's threshold asks."""

FEWEST_PAIRS = 8
"""A wear with fewer pairs never enters the accuracy sums, whatever a group's rules say."""

STEP_PEOPLE = 5
"""How many equal wearers the rounding steps are stated for."""


def n_alike(weights: Collection[float]) -> float:
    """How many wearers as heavy as the heaviest would weigh as much as all: whoever weighs most hides least.

    >>> n_alike([1.0, 1.0, 1.0, 1.0, 1.0]), n_alike([4.0, 1.0, 1.0, 1.0, 1.0])
    (5.0, 2.0)
    """
    return fsum(weights) / max(weights)


@dataclass(frozen=True, slots=True)
class ChannelConstants:
    """What sealing assumes about one channel before it has seen a single wear.

    The three standard deviations only set weights. If they are wrong the sums stay unbiased and lose some precision.
    """

    person_sd: float
    person_cell_sd: float
    wear_sd: float
    noise: float
    """Sampling variance of one wear with n pairs is taken as ``noise / n`` when weights are formed."""
    reference: float
    """Subtracted from every value, so that squares do not cancel when sums are centred later."""
    step: float
    """The mean over five equal wearers is rounded to a multiple of this, over more to finer ones; 0 rounds nothing."""
    noise_step: float = 0.0
    """Sampling variances that are computed from readings are rounded likewise, to this fraction of the assumed ones."""

    def steps(self, n_alike: float) -> tuple[float, float]:
        """Rounding steps of the mean and of the sampling variances over so many wearers, each as heavy as the heaviest.

        Whoever knows all but one of n equal wearers can take a mean apart up to n steps. Steps that shrink as 1/n leave
        the last one as well hidden among many as among five, at a cost that is gone where there are many.
        """
        return STEP_PEOPLE * self.step / n_alike, STEP_PEOPLE * self.noise_step / n_alike

    def squares_step(self, heaviest: float) -> float:
        """Rounding step of a sum of squares about the mean: with a finer one squares would tell what the mean hides."""
        return 2 * STEP_PEOPLE * self.step**2 * heaviest

    @property
    def person_variance(self) -> float:
        """Variance between people at one cell: person plus person-by-cell."""
        return self.person_sd**2 + self.person_cell_sd**2

    @property
    def tie_step(self) -> float:
        """Rounding step of one entry of a tie, per unit of the heaviest linker's weight."""
        return 1.75 * (self.person_cell_sd**2 + self.wear_sd**2) ** 0.5 if self.step else 0.0

    @property
    def part_step(self) -> float:
        """Rounding step of the sum over a part, per unit of the heaviest wearer's weight, as for a block."""
        return STEP_PEOPLE * self.step


@dataclass(frozen=True, slots=True)
class SealVersion:
    """One set of constants. Records name the number; numbers of different versions never share a sum of squares."""

    number: int
    kurtosis: float
    """Excess kurtosis of log ratios assumed in the sampling variance of a log variance."""
    grid_bits: int
    """Sums are integers in units of 2**-grid_bits."""
    channels: Mapping[str, ChannelConstants]

    def unrounded(self, *, number: int, grid_bits: int) -> "SealVersion":
        """Return the same constants without any rounding step: for checking algebra, never for sealing people."""
        bare = {name: replace(constants, step=0.0, noise_step=0.0) for name, constants in self.channels.items()}
        return SealVersion(number, self.kurtosis, grid_bits, MappingProxyType(bare))

    def to_grid(self, value: float) -> int:
        """Round a number to the nearest point of the grid."""
        return round(value * 2.0**self.grid_bits)

    def from_grid(self, units: int) -> float:
        """Turn grid units back into a number."""
        return units / 2.0**self.grid_bits

    def to_step(self, units: int, step: float) -> int:
        """Round grid units to a multiple of the step; a step of 0 rounds nothing."""
        return self.to_grid(step * round(self.from_grid(units) / step)) if step else units


def _half_person_sd(person_sd: float, person_cell_sd: float) -> float:
    return 0.5 * (person_sd**2 + person_cell_sd**2) ** 0.5


def _constants(
    person_sd: float, person_cell_sd: float, wear_sd: float, *, noise: float, reference: float, noise_step: float = 0.0
) -> ChannelConstants:
    step = _half_person_sd(person_sd, person_cell_sd)
    return ChannelConstants(person_sd, person_cell_sd, wear_sd, noise, reference, step, noise_step)


def _share(person_sd: float, person_cell_sd: float, *, reference: float) -> ChannelConstants:
    """Constants of what a wear has or has not: 0 or 1. Steps are below one person, so they hide no one's answer."""
    noise = reference * (1 - reference)
    step = 0.5 * (person_sd**2 + person_cell_sd**2 + noise) ** 0.5
    return ChannelConstants(person_sd, person_cell_sd, 0.02, noise, reference, step)


def _rating() -> ChannelConstants:
    """Constants of a rating from 0 to 10, given once a wear: half a point is taken for chance."""
    return _constants(1.4, 0.8, 1.0, noise=0.25, reference=7.0)


# Readings scatter around a wear's own mean with a log sd near 0.09 (0.09 squared is 0.0081), which is a mean absolute
# relative difference near 10 %. The variance of a mean computed from few readings itself varies between people as the
# log variance does, so it is rounded to half a person sd of that: 0.5 * sqrt(0.35**2 + 0.15**2) = 0.19.
_VARIANCE_STEP = _half_person_sd(0.35, 0.15)

SEAL_VERSION_1 = SealVersion(
    number=1,
    kurtosis=2.0,
    grid_bits=40,
    channels=MappingProxyType(
        {
            "location": _constants(0.04, 0.02, 0.03, noise=0.0081, reference=0.0, noise_step=_VARIANCE_STEP),
            "dispersion": _constants(0.35, 0.15, 0.25, noise=2.0, reference=2 * log(0.09)),
            "direct": _constants(0.03, 0.015, 0.02, noise=0.008, reference=0.10, noise_step=_VARIANCE_STEP),
            "rate15": _constants(0.10, 0.05, 0.07, noise=0.16, reference=0.80),
            "rate20": _constants(0.08, 0.04, 0.05, noise=0.09, reference=0.90),
            "tail": _constants(0.004, 0.002, 0.003, noise=0.005, reference=0.005),
            "on3": _share(0.05, 0.03, reference=0.97),
            "on7": _share(0.09, 0.05, reference=0.92),
            "on10": _share(0.11, 0.06, reference=0.88),
            "on14": _share(0.13, 0.07, reference=0.82),
            "on_rated": _share(0.12, 0.06, reference=0.85),
            "off_adhesive": _share(0.08, 0.05, reference=0.08),
            "off_device": _share(0.05, 0.02, reference=0.04),
            "off_body": _share(0.05, 0.03, reference=0.03),
            "reaction": _share(0.12, 0.06, reference=0.15),
            "ease": _rating(),
            "comfort": _rating(),
            "discretion": _rating(),
        }
    ),
)

VERSIONS: Mapping[int, SealVersion] = MappingProxyType({SEAL_VERSION_1.number: SEAL_VERSION_1})


@lru_cache(maxsize=4096)
def log_chi_square_moments(n_pairs: int) -> tuple[float, float]:
    """Mean and variance of log(S / sigma**2 / (n - 1)) when readings are normal.

    S, the centred sum of squares of n readings, over sigma squared is chi-square with n - 1 degrees of freedom, so the
    logarithm has mean digamma(nu/2) - log(nu/2) and variance trigamma(nu/2) (Johnson, Kotz and Balakrishnan,
    Continuous Univariate Distributions, chapter on the chi-square distribution; cited from memory).

    >>> mean, variance = log_chi_square_moments(3)
    >>> round(mean, 6), round(variance, 6)
    (-0.577216, 1.644934)
    """
    half = (n_pairs - 1) / 2
    return float(digamma(half)) - log(half), float(polygamma(1, half))
