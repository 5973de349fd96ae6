"""Who is in which block, for caps, ties and the auditor; and how much blocks share wearers."""

from collections.abc import Iterable, Iterator, Sequence

import numpy as np
from msgspec import Struct

from pooling.sealing.grid import Floats, Ints, grid_sums
from pooling.sealing.record import Cell
from pooling.sealing.records import SealedOverlap
from pooling.sealing.unit import Units
from pooling.sealing.version import FAMILIES, SealVersion


class Place(Struct, frozen=True, gc=False):
    """One wearer in one block: what caps, overlaps and ties need later. It holds no value and no wear.

    The collector of cycles leaves places alone: a slot makes very many, and walking them was its largest cost.
    ``block`` is the index of the block within its slot; -1 for a place of an earlier slot. ``q1`` and ``q2`` are by
    channel of the family, 0 where the wearer has no value.
    """

    person: str
    scope: str
    place: str
    sensor_model: str | None
    end_bucket: int
    q1: tuple[float, ...]
    q2: tuple[float, ...]
    block: int = -1

    @property
    def cell(self) -> Cell:
        """Cell of the place's block."""
        return Cell.of(self)


def places_of(cells: Sequence[Cell], units: Units, end_bucket: int) -> tuple[Place, ...]:
    """The place of every unit, in their order."""
    q1, q2 = (_by_unit(units, weight) for weight in (units.values.q1, units.values.q2))
    named = [(cell.scope, cell.place, cell.sensor_model) for cell in cells]
    blocks: list[int] = units.block.tolist()
    return tuple(
        Place(person, *named[block], end_bucket, own_q1, own_q2, block)
        for person, block, own_q1, own_q2 in zip(units.people, blocks, q1, q2, strict=True)
    )


def _by_unit(units: Units, weight: Floats) -> list[tuple[float, ...]]:
    return list(zip(*np.where(units.values.held, weight, 0.0).tolist(), strict=True))


def seal_overlaps(
    cells: Sequence[Cell], units: Units, open_places: Iterable[Place], *, end_bucket: int, version: SealVersion
) -> tuple[SealedOverlap, ...]:
    """Write pairs of units of one wearer: new with new, and new with what is still open."""
    persons = set(units.people)
    still = [place for place in open_places if place.person in persons]
    still_cells = [place.cell for place in still]
    named = sorted({*cells, *still_cells})
    rank = {cell: index for index, cell in enumerate(named)}
    cell_of = np.array([rank[cells[block]] for block in units.block.tolist()] + [rank[cell] for cell in still_cells])
    ends = np.array([end_bucket] * units.n + [place.end_bucket for place in still])
    still_q1 = np.array([place.q1 for place in still]).reshape(len(still), len(FAMILIES[units.family]))
    q1 = np.concatenate([np.where(units.values.held, units.values.q1, 0.0), still_q1.T], axis=1)
    one, other = _pairs([*units.people, *(place.person for place in still)], units.n)
    if not one.size:
        return ()
    keys = np.array(
        [
            np.minimum(cell_of[one], cell_of[other]),
            np.maximum(cell_of[one], cell_of[other]),
            np.minimum(ends[one], ends[other]),
        ]
    )
    order = np.lexsort(keys[::-1])
    keys, products = keys[:, order], (q1[:, one] * q1[:, other])[:, order]
    new = np.append(True, (np.diff(keys) != 0).any(axis=0))
    starts = np.flatnonzero(new)
    sums, counts = grid_sums(products, starts, version.grid_bits), np.diff(starts, append=one.size).tolist()
    return tuple(
        SealedOverlap(
            end,
            version.number,
            counts[index],
            {channel: (sums[row][index],) for row, channel in enumerate(FAMILIES[units.family])},
            family=units.family,
            cell=named[first],
            other=named[second],
        )
        for index, (first, second, end) in enumerate(keys[:, starts].T.tolist())
    )


def _pairs(people: Sequence[str], n_new: int) -> tuple[Ints, Ints]:
    """Positions of every two of one person of which one at least is new; the new ones stand first."""
    number: dict[str, int] = {}
    person = np.array([number.setdefault(name, len(number)) for name in people], dtype=np.int64)
    order = np.argsort(person, kind="stable")
    former, latter = zip(*_at_distances(person[order], order, n_new), strict=True)
    return np.concatenate(former), np.concatenate(latter)


def _at_distances(person: Ints, order: Ints, n_new: int) -> Iterator[tuple[Ints, Ints]]:
    """Pairs of neighbours of one person, then those with one between them, and so on."""
    yield order[:0], order[:0]
    distance = 1
    while (same := np.flatnonzero(person[distance:] == person[: max(person.size - distance, 0)])).size:
        one, other = order[same], order[same + distance]
        kept = np.minimum(one, other) < n_new
        yield one[kept], other[kept]
        distance += 1
