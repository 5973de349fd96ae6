"""Frozen constants of sealing: what every record of one version has in common."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from math import log
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
            "off_other",
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

MASK_SDS = 2.3
"""Masking noise of a sum of values, in standard deviations of what its heaviest wearer adds to it."""

SQUARES_SDS = 10.0
"""Masking noise of a sum of squares, in mean squares of one wearer."""

KURTOSIS_VARIANCE = 24.0
"""Of the excess kurtosis of n normal readings, times n (Fisher's g2 in large samples; from memory)."""

SHARE_SQUARES = 3.0
"""How many times that of the number itself the noise of its squares is: they are a function of the number."""


@dataclass(frozen=True, slots=True)
class ChannelConstants:
    """What sealing assumes about one channel before it has seen a single wear.

    The three standard deviations set weights and the size of masking noise. If they are wrong the sums stay unbiased
    and lose some precision, or hide somewhat less.
    """

    person_sd: float
    person_cell_sd: float
    wear_sd: float
    noise: float
    """Sampling variance of one wear with n pairs is taken as ``noise / n``."""
    reference: float
    """Subtracted from every value, so that squares do not cancel when sums are centred later."""
    masked_people: float = 0.0
    """Of what a wear has or has not, least masking noise in wearers who have it; 0 where a wear has a number."""
    measured: bool = False
    """Whether readings tell the sampling variance, so that the pool's own takes the place of the assumed one."""
    mask: float = 1.0
    """0 masks nothing."""

    @property
    def person_variance(self) -> float:
        """Variance between people at one cell: person plus person-by-cell."""
        return self.person_sd**2 + self.person_cell_sd**2

    def sum_mask_sd(self, heaviest: float) -> float:
        """Noise of a sum of values: a wearer of weight q adds q (x - r), which has variance q times that of people."""
        return self._mask_sd(heaviest, self.person_variance)

    def tie_mask_sd(self, heaviest: float) -> float:
        """Noise of one entry of a tie: along any contrast of cells a linker adds no more than variance q2 b squared."""
        return self._mask_sd(heaviest, self.person_cell_sd**2)

    def squares_mask_sd(self, heaviest: float, unit: float) -> float:
        """Noise of a sum of squares to which a wearer adds ``unit`` in the mean."""
        return self.mask * max(SQUARES_SDS * unit, SHARE_SQUARES * self.masked_people * heaviest)

    def seen_mask_sd(self, heaviest: float) -> float:
        """Noise of a sum of sampling variances: as readings tell them, they spread by about half."""
        return self.mask * SQUARES_SDS / 2 * heaviest if self.measured else 0.0

    def _mask_sd(self, heaviest: float, variance: float) -> float:
        return self.mask * max(MASK_SDS * (heaviest * variance) ** 0.5, self.masked_people * heaviest)


@dataclass(frozen=True, slots=True)
class SealVersion:
    """One set of constants. Records name the number; numbers of different versions never share a sum of squares."""

    number: int
    kurtosis: float
    """Excess kurtosis of log ratios assumed in the sampling variance of a log variance."""
    grid_bits: int
    """Sums are integers in units of 2**-grid_bits."""
    channels: Mapping[str, ChannelConstants]
    alike: Mapping[tuple[str, str], float]
    """How closely two channels say the same of a person: correlations of values, and so of masking noise."""

    def unmasked(self, *, number: int, grid_bits: int) -> "SealVersion":
        """Return the same constants without any masking noise: for checking algebra, never for sealing people."""
        bare = {name: replace(constants, mask=0.0) for name, constants in self.channels.items()}
        return replace(self, number=number, grid_bits=grid_bits, channels=MappingProxyType(bare))

    def shape_mask_sd(self, most_pairs: int) -> float:
        """Noise of the cumulants of wears, pairs times each: excess kurtosis of n normal readings varies by 24 / n."""
        return self.channels["location"].mask * MASK_SDS * (KURTOSIS_VARIANCE * most_pairs) ** 0.5

    def to_grid(self, value: float) -> int:
        """Round a number to the nearest point of the grid."""
        return round(value * 2.0**self.grid_bits)

    def from_grid(self, units: int) -> float:
        """Turn grid units back into a number."""
        return units / 2.0**self.grid_bits


def _share(
    person_sd: float, person_cell_sd: float, *, reference: float, masked_people: float = 1.2
) -> ChannelConstants:
    """Constants of what a wear has or has not: 0 or 1. Where several tell of the same end, each is masked for all."""
    noise = reference * (1 - reference)
    return ChannelConstants(person_sd, person_cell_sd, 0.02, noise, reference, masked_people=masked_people)


def _rating() -> ChannelConstants:
    """Constants of a rating from 0 to 10, given once a wear: half a point is taken for chance."""
    return ChannelConstants(1.4, 0.8, 1.0, noise=0.25, reference=7.0)


# Readings scatter around a wear's own mean with a log sd near 0.09 (0.09 squared is 0.0081), which is a mean absolute
# relative difference near 10 %. Correlations are those of wears simulated with heavy tails, rounded outward: noise that
# is too much alike leaves more open than noise that is not alike enough.
SEAL_VERSION_1 = SealVersion(
    number=1,
    kurtosis=2.0,
    grid_bits=40,
    channels=MappingProxyType(
        {
            "location": ChannelConstants(0.04, 0.02, 0.03, noise=0.0081, reference=0.0, measured=True),
            "dispersion": ChannelConstants(0.35, 0.15, 0.25, noise=2.0, reference=2 * log(0.09)),
            "direct": ChannelConstants(0.03, 0.015, 0.02, noise=0.008, reference=0.10, measured=True),
            "rate15": ChannelConstants(0.10, 0.05, 0.07, noise=0.16, reference=0.80),
            "rate20": ChannelConstants(0.08, 0.04, 0.05, noise=0.09, reference=0.90),
            "tail": ChannelConstants(0.004, 0.002, 0.003, noise=0.005, reference=0.005),
            "on3": _share(0.05, 0.03, reference=0.97),
            # The same for all that can be a rated life: the day is then sealed as the same number.
            "on7": _share(0.12, 0.06, reference=0.85),
            "on10": _share(0.12, 0.06, reference=0.85),
            "on14": _share(0.12, 0.06, reference=0.85),
            "on_rated": _share(0.12, 0.06, reference=0.85),
            "off_adhesive": _share(0.08, 0.05, reference=0.08),
            "off_device": _share(0.05, 0.02, reference=0.04),
            "off_body": _share(0.05, 0.03, reference=0.03),
            "off_other": _share(0.04, 0.02, reference=0.02),
            "reaction": _share(0.12, 0.06, reference=0.15, masked_people=0.8),
            "ease": _rating(),
            "comfort": _rating(),
            "discretion": _rating(),
        }
    ),
    alike=MappingProxyType(
        {
            ("dispersion", "direct"): 0.7,
            ("dispersion", "rate15"): -0.65,
            ("dispersion", "rate20"): -0.65,
            ("dispersion", "tail"): 0.3,
            ("direct", "rate15"): -0.9,
            ("direct", "rate20"): -0.88,
            ("direct", "tail"): 0.3,
            ("rate15", "rate20"): 0.88,
            ("rate15", "tail"): -0.25,
            ("rate20", "tail"): -0.3,
        }
    ),
)

VERSIONS: Mapping[int, SealVersion] = MappingProxyType({SEAL_VERSION_1.number: SEAL_VERSION_1})
"""All that records may name. None is ever changed or taken out while a record of it is open."""

CURRENT = SEAL_VERSION_1
"""What new blocks are sealed by; another one comes with a release (`pooling.sealing.deriving`)."""


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
