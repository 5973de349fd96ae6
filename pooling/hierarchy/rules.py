"""Everything that a fit takes as given; part of what makes two editions comparable."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from pooling.sealing import VERSIONS, SealVersion

CHANNELS = ("location", "dispersion", "direct", "rate15", "rate20")
"""What is fitted, in this order."""
_SCALES = MappingProxyType({"location": 0.05, "dispersion": 0.5, "direct": 0.4, "rate15": 0.1, "rate20": 0.1})


@dataclass(frozen=True)
class FitRules:
    """Rules of a fit.

    prior_scales are the scales of the half-t priors (4 degrees of freedom) on every standard deviation: log units for
    location, log variance units for dispersion, a share of the pool's own level for direct, a fraction for the rates.
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
    versions: Mapping[int, SealVersion] = field(default_factory=lambda: VERSIONS)
