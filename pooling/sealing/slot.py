"""One calendar slot's planned blocks become sealed records, in one pass, before any figure is computed."""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypedDict, Unpack

import numpy as np

from pooling.errors import InvalidInput, TooFewPeople
from pooling.ledger.parts import PlannedParts
from pooling.ledger.ties import PlannedTie
from pooling.sealing.bundles import seal_bundles
from pooling.sealing.grid import grid_sums, squares
from pooling.sealing.lots import seal_lot
from pooling.sealing.masking import Masks
from pooling.sealing.parts import SealedParts, seal_parts
from pooling.sealing.places import Place, places_of, seal_overlaps
from pooling.sealing.record import Cell
from pooling.sealing.records import SealedBlock, SealedBundle, SealedOverlap, SealedRecords, SealedTie
from pooling.sealing.ties import seal_tie
from pooling.sealing.unit import Member, Units, units_of
from pooling.sealing.version import SealVersion


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


class _Shared(TypedDict):
    """What all records of one slot and family are made with."""

    end_bucket: int
    version: SealVersion
    masks: Masks


def seal_slot(
    blocks: Sequence[tuple[Any, Sequence[Member]]],
    *,
    ties: Sequence[PlannedTie] = (),
    parts: Sequence[PlannedParts] = (),
    lots: Iterable[Any] = (),
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
    lots : iterable of cells
        Those of these blocks whose wears by lot are summed apart from chosen ones, as `pooling.ledger.plan_lots` says.
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
    units = units_of([members for _, members in blocks], version, family)
    for cell, inside in zip(cells, units.ranges(), strict=True):
        if (n_accounts := units.n_accounts(inside)) < k_of(cell.scope):
            raise TooFewPeople(f"a block needs {k_of(cell.scope)} accounts and has {n_accounts}")
    masks = Masks(key, version, family)
    shared: _Shared = {"end_bucket": end_bucket, "version": version, "masks": masks}
    bundles = seal_bundles(cells, units, k=k_of, **shared)
    members = [member for _, own in blocks for member in own]
    named = dict(zip(cells, units.ranges(), strict=True))
    bundled = [_seal_parts(planned, named, units, members, k_of, **shared) for planned in parts]
    bundled += _seal_lots({Cell.of(cell) for cell in lots}, named, units, members, k_of, **shared)
    return SlotSeal(
        blocks=_seal_blocks(cells, units, **shared),
        overlaps=seal_overlaps(cells, units, open_places, end_bucket=end_bucket, version=version),
        bundles=tuple(bundle for bundle, _ in bundles),
        ties=tuple(seal_tie(tie, named, units, k=k_of, **shared) for tie in ties),
        parts=tuple(record for record, _ in bundled),
        part_people=tuple(people for _, people in bundled),
        places=places_of(cells, units, end_bucket),
        bundle_people=tuple(people for _, people in bundles),
        tie_places=_tie_places(ties, cells, units),
    )


def _tie_places(
    ties: Sequence[PlannedTie], cells: Sequence[Cell], units: Units
) -> tuple[tuple[tuple[int, ...], ...], ...]:
    block_of = {cell: number for number, cell in enumerate(cells)}
    seat = {own: index for index, own in enumerate(zip(units.people, units.block.tolist(), strict=True))}
    tied = [[block_of.get(Cell.of(cell), -1) for cell in tie.cells] for tie in ties]
    return tuple(
        tuple(tuple(seat[person, block] for block in own if (person, block) in seat) for person in tie.linkers)
        for tie, own in zip(ties, tied, strict=True)
    )


def _seal_parts(
    planned: PlannedParts,
    named: Mapping[Cell, slice],
    units: Units,
    members: Sequence[Member],
    k_of: Callable[[str], int],
    **shared: Unpack[_Shared],
) -> tuple[SealedParts, tuple[str, ...]]:
    """One bundle, and the wearers in it."""
    cells = {Cell.of(cell) for cell in planned.cells}
    chosen = [(cell, named[cell]) for cell in sorted(cells & named.keys())]
    (scope,), places = {cell.scope for cell in cells}, {cell.place for cell in cells}
    record = seal_parts(
        chosen,
        units,
        members,
        planned.partitions,
        scope=scope,
        place=places.pop() if len(places) == 1 else "",
        k=k_of(scope),
        **shared,
    )
    return record, tuple(sorted({person for _, inside in chosen for person in units.people[inside]}))


def _seal_lots(
    lots: Collection[Cell],
    named: Mapping[Cell, slice],
    units: Units,
    members: Sequence[Member],
    k_of: Callable[[str], int],
    **shared: Unpack[_Shared],
) -> Iterator[tuple[SealedParts, tuple[str, ...]]]:
    """One block each, and the wearers in it."""
    for cell, inside in named.items():
        if cell in lots:
            yield seal_lot(cell, inside, units, members, k=k_of(cell.scope), **shared), units.people[inside]


def _seal_blocks(
    cells: Sequence[Cell], units: Units, *, end_bucket: int, version: SealVersion, masks: Masks
) -> tuple[SealedBlock, ...]:
    values, starts = units.values, units.starts
    if not units.n:
        return ()
    q1_squares = squares(values.q1)
    terms = (values.q1, q1_squares, values.q1 * values.value, q1_squares * values.share, q1_squares * values.assumed)
    sums = [grid_sums(term, starts, version.grid_bits) for term in terms]
    heaviest = np.maximum.reduceat(values.q1, starts, axis=1).tolist()
    n_wears, n_pairs = (np.add.reduceat(count, starts).tolist() for count in (units.n_wears, units.n_pairs))

    def block_sums(block: int, row: int, channel: str, deviate: float) -> tuple[int, ...]:
        """The numbers of BLOCK_SUMS."""
        mask_sd = version.channels[channel].sum_mask_sd(heaviest[row][block])
        weight, weight_sq, first, *others = (own[row][block] for own in sums)
        return (weight, weight_sq, first + version.to_grid(mask_sd * deviate), *others, version.to_grid(mask_sd**2))

    sealed = []
    for block, (cell, inside) in enumerate(zip(cells, units.ranges(), strict=True)):
        deviates = masks.draw_for(units.lives_of(inside), "block", cell.scope, cell.place, cell.model)
        sealed.append(
            SealedBlock(
                end_bucket,
                version.number,
                n_people=units.n_accounts(inside),
                sums={
                    channel: block_sums(block, row, channel, deviates[channel])
                    for channel, row in units.rows_held_by(inside)
                },
                family=units.family,
                cell=cell,
                n_wearers=inside.stop - inside.start,
                n_wears=n_wears[block],
                n_pairs=n_pairs[block],
            )
        )
    return tuple(sealed)
