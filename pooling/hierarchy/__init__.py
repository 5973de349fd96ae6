"""The mixed model on sealed records: what a new wearer can expect at each site, and how sure that is.

`fit` reads sums over at least k people and nothing else. `reml` fits single wears exactly; it is the referee that the
sealed fit is measured against, and nothing published comes from it.
"""

from collections.abc import Iterable

import numpy as np

from pooling.hierarchy.channel import ChannelFit, fit_channel
from pooling.hierarchy.combination import combine
from pooling.hierarchy.reml import RemlFit, reml
from pooling.hierarchy.results import CellFit, Contrast, Estimate, PooledFit
from pooling.hierarchy.rules import CHANNELS, FAMILY_OF, FitRules
from pooling.sealing import SealedRecord, SealedRecords

__all__ = [
    "CHANNELS",
    "CellFit",
    "ChannelFit",
    "Contrast",
    "Estimate",
    "FitRules",
    "PooledFit",
    "RemlFit",
    "combine",
    "fit",
    "fit_channel",
    "fittable",
    "reml",
]


def fittable(sealed_records: SealedRecords) -> tuple[str, ...]:
    """Channels that a block holds, family by family: the pieces that the work of a fit falls into."""
    held = {(block.family, channel) for block in sealed_records.blocks for channel in block.sums}
    return tuple(channel for channel, family in FAMILY_OF.items() if (family, channel) in held)


def fit(sealed_records: SealedRecords | Iterable[SealedRecord], rules: FitRules, rng: np.random.Generator) -> PooledFit:
    """Fit all channels of sealed records and combine them.

    Parameters
    ----------
    sealed_records : SealedRecords or iterable of sealed records
        What the fit may read; order does not matter.
    rules : FitRules
    rng : numpy.random.Generator
        Each channel gets a child of its own, so channels can also be fitted elsewhere, one by one.

    Returns
    -------
    PooledFit

    Raises
    ------
    TooFewPeople
        There is no block.
    NoConvergence
        A channel could not be integrated.
    """
    records = sealed_records if isinstance(sealed_records, SealedRecords) else SealedRecords.of(sealed_records)
    *children, last = rng.spawn(len(CHANNELS) + 1)
    fits = {
        channel: fit_channel(records, channel, rules, child) for channel, child in zip(CHANNELS, children, strict=True)
    }
    return combine(records, fits, rules, last)
