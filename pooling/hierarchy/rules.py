"""Everything that a fit takes as given; part of what makes two editions comparable."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from pooling.sealing import FAMILIES, VERSIONS, SealVersion

CHANNELS = ("location", "dispersion", "direct", "rate15", "rate20")
"""What rows of accuracy are put together from, in this order."""
COMPARED = ("location", "dispersion")
"""Those of them that set cells against each other; the others give levels of whole pools."""
FAMILY_OF: Mapping[str, str] = MappingProxyType(
    {channel: family for family, channels in FAMILIES.items() for channel in channels}
)
"""Every channel that can be fitted, with its family."""
YES_NO = frozenset((*FAMILIES["survival"], *FAMILIES["skin"]))
"""Channels in which a wear is 0 or 1: the noise of one wear follows from the share itself."""
RATINGS = ("ease", "comfort", "discretion")
LIMITS: Mapping[str, tuple[float, float]] = MappingProxyType(
    dict.fromkeys((*sorted(YES_NO), "tail"), (0.0, 1.0)) | dict.fromkeys(RATINGS, (0.0, 10.0))
)
"""Where levels of channels that are published as they are fitted must lie."""
_SCALES = MappingProxyType(
    {"location": 0.05, "dispersion": 0.5, "direct": 0.4, "rate15": 0.1, "rate20": 0.1, "tail": 0.005}
    | dict.fromkeys(sorted(YES_NO), 0.1)
    # A tenth by the end of a life of two weeks, and before that in proportion.
    | {"on3": 0.02, "on7": 0.05, "on10": 0.07}
    | {"off_device": 0.03, "off_body": 0.03, "off_other": 0.03}
    | dict.fromkeys(RATINGS, 1.0)
)


@dataclass(frozen=True)
class FitRules:
    """Rules of a fit.

    prior_scales are the scales of the half-t priors (4 degrees of freedom) on every standard deviation: log units for
    location, log variance units for dispersion, a share of the pool's own level for direct, points of the scale from
    0 to 10 for ratings, a fraction for all shares of readings, wears and people.
    """

    version: int = 1
    draws: int = 800
    fewest_effective: int = 100
    """Fewer effective draws of the spreads than this are not accepted."""
    wanted_effective: int = 400
    """Nodes are added until they are worth this many draws, or the batches are used up."""
    batch: int = 256
    most_batches: int = 16
    prior_scales: Mapping[str, float] = field(default_factory=lambda: _SCALES)
    who_chose: float = 1.0
    """Scale of the sd of "who chose this site", as a multiple of the channel's prior scale; 0 leaves it out."""
    who_chose_within: float = 0.5
    """The same sd in the fit that compares tied cells, held: the larger, the less cell means say beside ties."""
    versions: Mapping[int, SealVersion] = field(default_factory=lambda: VERSIONS)
