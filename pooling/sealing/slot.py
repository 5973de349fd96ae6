"""One calendar slot's planned blocks become sealed records, in one pass, before any figure is computed."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from pooling.errors import InvalidInput, TooFewPeople
from pooling.ledger.parts import PlannedParts
from pooling.ledger.ties import PlannedTie
from pooling.sealing.bundles import seal_bundles
from pooling.sealing.masking import Masks
from pooling.sealing.parts import SealedParts, seal_parts
from pooling.sealing.record import Cell
from pooling.sealing.records import SealedBlock, SealedBundle, SealedOverlap, SealedRecords, SealedTie
from pooling.sealing.ties import seal_tie
from pooling.sealing.unit import Member, Unit, UnitValue, channels_of_all, units_of
from pooling.sealing.version import FAMILIES, SealVersion


@dataclass(frozen=True, slots=True)
class Place:
    """One wearer in one block: what caps, overlaps and ties need later. It holds no value and no wear.

    ``block`` is the index of the block within its slot; -1 for a place of an earlier slot.
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


@dataclass(frozen=True, slots=True)
class SlotSeal:
    """Everything one slot seals. blocks stand in the order of the plan; places say who is in which of them."""

    blocks: tuple[SealedBlock, ...]
    overlaps: tuple[SealedOverlap, ...]
    bundles: tuple[SealedBundle, ...]
    ties: tuple[SealedTie, ...]
    parts: tuple[SealedParts, ...]
    places: tuple[Place, ...]
    bundle_people: tuple[tuple[str, ...], ...]
    """Per bundle the wearers in it, for the auditor."""
    tie_places: tuple[tuple[tuple[int, ...], ...], ...]
    """Per tie and linker the linker's places (positions in `places`), for the auditor."""
    part_people: tuple[tuple[str, ...], ...]
    """Per record of parts the wearers in it, for the auditor."""

    @property
    def records(self) -> SealedRecords:
        """The sums alone."""
        return SealedRecords(self.blocks, self.overlaps, self.bundles, self.ties, self.parts)


def seal_slot(
    blocks: Sequence[tuple[Any, Sequence[Member]]],
    *,
    ties: Sequence[PlannedTie] = (),
    parts: Sequence[PlannedParts] = (),
    open_places: Iterable[Place],
    end_bucket: int,
    version: SealVersion,
    key: bytes,
    k: int | Callable[[str], int],
    family: str = "accuracy",
) -> SlotSeal:
    """Reduce planned blocks, the ties between them and the parts of them that were planned, to sums of integers.

    Every sum that holds values is formed over at least k accounts and has masking noise; squares, and the shape of the
    readings, are summed over the scope and slot, and dropped if even there fewer than k accounts contribute.

    Parameters
    ----------
    blocks : sequence of (cell, members)
        cell has scope, place and sensor_model; members are all wears of the block. No cell comes twice.
    ties : sequence of PlannedTie
        Between cells of these blocks.
    parts : sequence of PlannedParts
        Bundles of these blocks, each of one scope.
    open_places : iterable of Place
        Places of the same wearers in blocks of the family that have not ended; others are ignored.
    end_bucket : int
        Boundary at which the new records end.
    version : SealVersion
        Frozen constants.
    key : bytes
        What masking noise is drawn from. To be forgotten afterwards: who has it can take the noise off.
    k : int or callable
        Smallest number of accounts, or a function from scope to it.
    family : str
        Which outcomes to sum; every wear has a value there. A channel in which not all of a block have one (the share
        still on at a day beyond some sensors' life) is left out of that block.

    Returns
    -------
    SlotSeal
        The same bytes for the same key and any order of members and open places.

    Raises
    ------
    TooFewPeople
        A block has fewer than k accounts, or a tie could leave fewer than k people.
    InvalidInput
        A cell comes twice, a wear has fewer than eight pairs, a wearer is named under two accounts, or a tie is not one
        between cells of these blocks.
    """
    k_of = k if callable(k) else lambda _scope: k
    cells = [Cell.of(cell) for cell, _ in blocks]
    if len(set(cells)) < len(cells):
        raise InvalidInput("all wears that enter a cell at one cut-off make one block")
    units = [units_of(members, version, family) for _, members in blocks]
    for cell, found in zip(cells, units, strict=True):
        n_accounts = len({unit.account for unit in found})
        if n_accounts < k_of(cell.scope):
            raise TooFewPeople(f"a block needs {k_of(cell.scope)} accounts and has {n_accounts}")
    masks = Masks(key, version, family)
    shared = {"end_bucket": end_bucket, "version": version, "masks": masks, "family": family}
    sealed = tuple(_seal_block(cell, found, **shared) for cell, found in zip(cells, units, strict=True))
    places = tuple(
        _place(unit, cell, index, end_bucket, family)
        for index, (cell, found) in enumerate(zip(cells, units, strict=True))
        for unit in found
    )
    bundles = seal_bundles(cells, units, k=k_of, **shared)
    tied = [tuple(Cell.of(cell) for cell in tie.cells) for tie in ties]
    bundled = [_seal_parts(planned, blocks, units, k_of, end_bucket, version, masks) for planned in parts]
    seat = {(place.person, place.cell): index for index, place in enumerate(places)}
    return SlotSeal(
        blocks=sealed,
        overlaps=_seal_overlaps(places, open_places, version, family),
        bundles=tuple(bundle for bundle, _ in bundles),
        ties=tuple(seal_tie(tie, dict(zip(cells, units, strict=True)), k=k_of, **shared) for tie in ties),
        parts=tuple(record for record, _ in bundled),
        part_people=tuple(people for _, people in bundled),
        places=places,
        bundle_people=tuple(people for _, people in bundles),
        tie_places=tuple(
            tuple(tuple(seat[person, cell] for cell in own if (person, cell) in seat) for person in tie.linkers)
            for tie, own in zip(ties, tied, strict=True)
        ),
    )


def _seal_parts(
    planned: PlannedParts,
    blocks: Sequence[tuple[Any, Sequence[Member]]],
    units: Sequence[Sequence[Unit]],
    k_of: Callable[[str], int],
    end_bucket: int,
    version: SealVersion,
    masks: Masks,
) -> tuple[SealedParts, tuple[str, ...]]:
    """One bundle, and the wearers in it."""
    cells = {Cell.of(cell) for cell in planned.cells}
    named = [(Cell.of(cell), members, found) for (cell, members), found in zip(blocks, units, strict=True)]
    inside = sorted((block for block in named if block[0] in cells), key=lambda block: block[0])
    (scope,), places = {cell.scope for cell in cells}, {cell.place for cell in cells}
    record = seal_parts(
        inside,
        planned.partitions,
        scope=scope,
        place=places.pop() if len(places) == 1 else "",
        end_bucket=end_bucket,
        version=version,
        masks=masks,
        k=k_of(scope),
    )
    return record, tuple(sorted({unit.person for *_, found in inside for unit in found}))


def _seal_block(
    cell: Cell, units: Sequence[Unit], *, end_bucket: int, version: SealVersion, masks: Masks, family: str
) -> SealedBlock:
    deviates = masks.draw_for(units, "block", cell.scope, cell.place, cell.model)
    return SealedBlock(
        end_bucket,
        version.number,
        n_people=len({unit.account for unit in units}),
        sums={
            channel: _block_sums([unit.channels[channel] for unit in units], deviates[channel], channel, version)
            for channel in channels_of_all(units, family)
        },
        family=family,
        cell=cell,
        n_wearers=len(units),
        n_wears=sum(unit.n_wears for unit in units),
        n_pairs=sum(unit.n_pairs for unit in units),
    )


def _block_sums(units: Sequence[UnitValue], deviate: float, channel: str, version: SealVersion) -> tuple[int, ...]:
    """The numbers of BLOCK_SUMS."""
    mask_sd = version.channels[channel].sum_mask_sd(max(unit.q1 for unit in units))

    def total(term: Callable[[UnitValue], float]) -> int:
        return sum(version.to_grid(term(unit)) for unit in units)

    return (
        total(lambda unit: unit.q1),
        total(lambda unit: unit.q1**2),
        total(lambda unit: unit.q1 * unit.value) + version.to_grid(mask_sd * deviate),
        total(lambda unit: unit.q1**2 * unit.share),
        total(lambda unit: unit.q1**2 * unit.assumed),
        version.to_grid(mask_sd**2),
    )


def _place(unit: Unit, cell: Cell, block: int, end_bucket: int, family: str) -> Place:
    values = [unit.channels.get(channel) for channel in FAMILIES[family]]
    return Place(
        person=unit.person,
        scope=cell.scope,
        place=cell.place,
        sensor_model=cell.sensor_model,
        end_bucket=end_bucket,
        q1=tuple(value.q1 if value else 0.0 for value in values),
        q2=tuple(value.q2 if value else 0.0 for value in values),
        block=block,
    )


def _seal_overlaps(
    places: Sequence[Place], open_places: Iterable[Place], version: SealVersion, family: str
) -> tuple[SealedOverlap, ...]:
    """Write pairs of units of one wearer: new with new, and new with what is still open."""
    new: dict[str, list[Place]] = {}
    for place in places:
        new.setdefault(place.person, []).append(place)
    pairs = [pair for own in new.values() for pair in combinations(own, 2)]
    pairs += [(mine, place) for place in open_places for mine in new.get(place.person, ())]

    sums: dict[tuple[Cell, Cell, int], list[int]] = {}
    counts: dict[tuple[Cell, Cell, int], int] = {}
    for a, b in pairs:
        first, second = sorted((a.cell, b.cell))
        key = (first, second, min(a.end_bucket, b.end_bucket))
        found = sums.setdefault(key, [0] * len(FAMILIES[family]))
        counts[key] = counts.get(key, 0) + 1
        for index in range(len(FAMILIES[family])):
            found[index] += version.to_grid(a.q1[index] * b.q1[index])
    return tuple(
        SealedOverlap(
            key[2],
            version.number,
            counts[key],
            {channel: (sums[key][index],) for index, channel in enumerate(FAMILIES[family])},
            family=family,
            cell=key[0],
            other=key[1],
        )
        for key in sorted(sums)
    )
