"""One person's level at one cell, given that person's wears: the exact normal conditional, without a matrix."""

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Reading:
    """One wear in one channel, as what it lies above its cell's expected value, with its sampling variance."""

    cell: Hashable
    deviation: float
    noise: float


@dataclass(frozen=True, slots=True)
class Normal:
    """Mean and variance of a normal law."""

    mean: float
    variance: float


def person_at(
    cell: Hashable,
    readings: Iterable[Reading],
    *,
    person_variance: float,
    unit_variance: Mapping[Hashable, float],
    wear_variance: float,
) -> Normal:
    """How far one person's own level at a cell lies above what is expected of everybody there.

    The law: deviation = person + unit + wear + sampling error, all normal about 0; a person's wears share the first,
    those at one cell the second as well. Everything but the wears is given.

    Parameters
    ----------
    cell
        Where the person's level is asked for; there need be no wear.
    readings
        The person's wears, in any order.
    person_variance, wear_variance
        Variance between people, and between a person's wears at one cell.
    unit_variance
        Per cell, the variance of what a person's level there has of its own, and of what is not known of the cell.

    Returns
    -------
    Normal
        Of person + unit at `cell`.

    Notes
    -----
    Wears first, then cells, then the person are eliminated (Searle, Casella and McCulloch 1992, Variance Components,
    chapter 7; cited from memory); the tests hold it against a dense conditional.
    """
    weight: dict[Hashable, float] = {}
    pull: dict[Hashable, float] = {}
    for reading in readings:
        precision = 1.0 / (wear_variance + reading.noise)
        weight[reading.cell] = weight.get(reading.cell, 0.0) + precision
        pull[reading.cell] = pull.get(reading.cell, 0.0) + precision * reading.deviation
    kept = {own: 1.0 / (1.0 + unit_variance[own] * weight[own]) for own in weight}
    total = sum(kept[own] * weight[own] for own in weight)
    shrink = person_variance / (1.0 + person_variance * total)
    person = Normal(shrink * sum(kept[own] * pull[own] for own in weight), shrink)
    here, unit = kept.get(cell, 1.0), unit_variance[cell]
    return Normal(
        here * person.mean + unit * here * pull.get(cell, 0.0),
        here * here * person.variance + unit * here,
    )
