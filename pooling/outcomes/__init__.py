"""What wearing is like beside accuracy: fits of sealed sums as levels of sites, and of sensor models there."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from pooling.hierarchy import ChannelFit
from pooling.hierarchy.rules import RATINGS
from pooling.outcomes.levels import Level, levels
from pooling.outcomes.survival import Survival, falling, survival
from pooling.sealing import FAMILIES, SealedRecords

__all__ = ["Level", "Outcomes", "Survival", "estimate", "falling", "levels", "survival"]


@dataclass(frozen=True, slots=True)
class Outcomes:
    """Everything of a pool beside accuracy. Empty where nothing has been sealed.

    reaction_pct: people whose skin reacted with grade 2 or more, in per cent. ratings: means from 0 to 10, by rating.
    far_per_1000: readings in zones C to E of the consensus grid, of 1,000.
    """

    survival: tuple[Survival, ...] = ()
    reaction_pct: tuple[Level, ...] = ()
    ratings: Mapping[str, tuple[Level, ...]] = field(default_factory=dict)
    far_per_1000: tuple[Level, ...] = ()


def estimate(records: SealedRecords, fits: Mapping[str, ChannelFit], *, rated_life_days: Mapping[str, int]) -> Outcomes:
    """Turn whatever has been fitted into levels.

    Parameters
    ----------
    records : SealedRecords
        The records that the channels were fitted from.
    fits : mapping of str to ChannelFit
        Fits by channel; what is missing leaves its part empty.
    rated_life_days : mapping of str to int
        By sensor model.

    Raises
    ------
    InvalidInput
        A channel was fitted from other records.
    """

    def of(channel: str, unit: float) -> tuple[Level, ...]:
        return levels(records, fits[channel], unit=unit) if channel in fits else ()

    on_skin = {channel: fit for channel, fit in fits.items() if channel in FAMILIES["survival"]}
    return Outcomes(
        survival=survival(records, on_skin, rated_life_days=rated_life_days),
        reaction_pct=of("reaction", 100.0),
        ratings={rating: of(rating, 1.0) for rating in RATINGS if rating in fits},
        far_per_1000=of("tail", 1000.0),
    )
