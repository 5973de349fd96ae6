"""A channel's posterior draws as levels of sites and of sensor models there."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pooling.errors import InvalidInput
from pooling.hierarchy.channel import ChannelFit
from pooling.hierarchy.pool import Where, count, holding
from pooling.hierarchy.results import Estimate
from pooling.sealing import SealedRecords

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Level:
    """What a new wearer can expect at a place: of one sensor model, or over all models (sensor_model None)."""

    place: str
    sensor_model: str | None
    n_people: int
    estimate: Estimate


@dataclass(frozen=True, slots=True)
class Drawn:
    """Draws of one row. Two channels rest on the same wears where ``n_wears`` are equal: the wears of each cell."""

    n_people: int
    n_wears: tuple[int, ...]
    sensor_models: frozenset[str | None]
    draws: Floats


def drawn_rows(records: SealedRecords, fit: ChannelFit) -> dict[Where, Drawn]:
    """Draws of every cell that names its sensor model and of every place over its models, weighted by people.

    Raises
    ------
    InvalidInput
        The channel was fitted from other records.
    """
    counts = count(holding(records, fit.channel))
    if counts.cells != fit.cells:
        raise InvalidInput(f"the {fit.channel} channel was fitted from other records")
    cells = [(cell, (index,)) for index, cell in enumerate(counts.cells) if cell[1] is not None]
    places = [((place, None), members) for place, members in counts.members_by_place().items()]
    return {
        where: Drawn(
            counts.people_among(members),
            tuple(counts.n_wears[index] for index in members),
            frozenset(counts.cells[index][1] for index in members),
            fit.levels[:, list(members)] @ counts.share_among(members),
        )
        for where, members in (*cells, *places)
    }


def levels(records: SealedRecords, fit: ChannelFit, *, unit: float = 1.0) -> tuple[Level, ...]:
    """Median and 95 % interval of every row, multiplied by ``unit``: 100 turns shares into per cent.

    Raises
    ------
    InvalidInput
        The channel was fitted from other records.
    """
    return tuple(
        Level(place, sensor_model, row.n_people, Estimate.of(unit * row.draws))
        for (place, sensor_model), row in drawn_rows(records, fit).items()
    )
