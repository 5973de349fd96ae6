"""Sums part by part: what a ledger's blocks and ties add up when the pairs of each wear are told apart by partitions.

An atom is then what one wear has in one crossing of the partitions, with its weight in the block. The sides of a block,
by lot and chosen, are sums of whole wears.
"""

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import product

import numpy as np

from pooling.ledger import CellKey, Crossing, Picked, PlannedParts, bundles_to_try, plan_lots, plan_parts
from tests.redteam.algebra import Sum
from tests.redteam.ledgers import Block, Ledger, Weight

PARTITIONS = (("early", "late"), ("low", "mid", "high"))

Wears = Sequence[tuple[str, frozenset[Crossing]]]
PlanParts = Callable[..., Sequence[PlannedParts]]
PlanLots = Callable[..., Sequence[CellKey]]


def crossings(rng: np.random.Generator, ledger: Ledger) -> dict[str, frozenset[Crossing]]:
    """Where each counted wear has pairs: at least somewhere, often not everywhere."""
    everywhere = list(product(*PARTITIONS))
    share = rng.uniform(0.3, 0.9)
    return {
        wear: frozenset(each for each in everywhere if rng.random() < share) or frozenset(everywhere[:1])
        for block in ledger.blocks
        for wear in block.wears
    }


def drawn_by_lot(rng: np.random.Generator, ledger: Ledger) -> frozenset[str]:
    """Counted wears whose site a lot drew: whoever wears several sites is mostly in a test, others mostly chose."""
    cells_of: dict[str, set[CellKey]] = defaultdict(set)
    for block in ledger.blocks:
        for person in ledger.people(block):
            cells_of[person].add(block.cell)
    astray = rng.uniform(0.0, 0.4)
    share = {
        person: rng.choice([0.0, 0.5, 1.0]) if rng.random() < astray else float(len(cells_of[person]) > 1)
        for person in sorted(cells_of)
    }
    wears = [wear for block in ledger.blocks for wear in block.wears]
    return frozenset(wear for wear in wears if rng.random() < share[ledger.given[wear].person])


def sides(
    ledger: Ledger,
    pairs_in: Mapping[str, frozenset[Crossing]],
    by_lot: frozenset[str],
    k: int,
    *,
    u: Weight = lambda person, cell: 1,
    planner: PlanLots = plan_lots,
) -> Iterator[Sum]:
    """The sums by lot and of chosen wears, cut-off by cut-off, over the atoms of `split`."""
    for slot in _slots(ledger):
        linkers = {linker for at, tie in ledger.ties if at == slot for linker in tie.linkers}
        blocks = {block.cell: block for block in ledger.blocks if block.slot == slot}
        wears = {cell: [_picked(ledger, wear, by_lot) for wear in block.wears] for cell, block in blocks.items()}
        for cell in planner(wears, k, linkers=linkers):
            for side in (True, False):
                inside = [wear for wear in blocks[cell].wears if (wear in by_lot) is side]
                yield {
                    f"{wear}/{'/'.join(crossing)}": u(ledger.given[wear].person, cell)
                    for wear in inside
                    for crossing in sorted(pairs_in[wear])
                }


def _picked(ledger: Ledger, wear: str, by_lot: frozenset[str]) -> Picked:
    return ledger.given[wear].person, ledger.given[wear].wearer, wear in by_lot


def k_on_each_side(blocks: Mapping[CellKey, Sequence[Picked]], k: int, *, linkers: object) -> list[CellKey]:
    """The rule that most would write: at least k people by lot, and at least k who chose."""
    return [
        cell
        for cell, wears in blocks.items()
        if all(len({person for person, _, lot in wears if lot is side}) >= k for side in (True, False))
    ]


def split(
    ledger: Ledger,
    pairs_in: Mapping[str, frozenset[Crossing]],
    k: int,
    *,
    u: Weight = lambda person, cell: 1,
    w: Weight = lambda person, cell: 1,
    planner: PlanParts = plan_parts,
) -> tuple[list[Sum], dict[str, str], int]:
    """Everything sealed with its parts, whose atoms are, and how many partitions were sealed."""
    atoms_of: dict[str, list[str]] = defaultdict(list)
    owner: dict[str, str] = {}
    for block in ledger.blocks:
        for wear in block.wears:
            person = ledger.given[wear].person
            for crossing in sorted(pairs_in[wear]):
                atom = f"{wear}/{'/'.join(crossing)}"
                atoms_of[block.seat(person)].append(atom)
                owner[atom] = person
    whole = ledger.sums(u, w)
    sums: list[Sum] = [{atom: value for seat, value in held.items() for atom in atoms_of[seat]} for held in whole]
    parts = [held for slot in _slots(ledger) for held in _parts(ledger, slot, pairs_in, k, u, planner)]
    return [*sums, *parts], owner, len(parts)


def _slots(ledger: Ledger) -> list[int]:
    return sorted({block.slot for block in ledger.blocks})


def _parts(
    ledger: Ledger, slot: int, pairs_in: Mapping[str, frozenset[Crossing]], k: int, u: Weight, planner: PlanParts
) -> Iterator[Sum]:
    blocks: dict[CellKey, Block] = {block.cell: block for block in ledger.blocks if block.slot == slot}
    wears = {
        cell: [(ledger.given[wear].person, pairs_in[wear]) for wear in block.wears] for cell, block in blocks.items()
    }
    for planned in planner(wears, k, together=bundles_to_try(blocks)):
        for partition in planned.partitions:
            for part in PARTITIONS[partition]:
                held: dict[str, int | Fraction] = {}
                for cell in planned.cells:
                    for wear in blocks[cell].wears:
                        for crossing in sorted(pairs_in[wear]):
                            if crossing[partition] == part:
                                held[f"{wear}/{'/'.join(crossing)}"] = u(ledger.given[wear].person, cell)
                yield held


def none_or_k(blocks: Mapping[CellKey, Wears], k: int, *, together: Sequence[Sequence[CellKey]]) -> list[PlannedParts]:
    """The rule that most would write: nobody or at least k people have pairs in each part."""
    planned, taken = [], set[CellKey]()
    for wanted in together:
        cells = tuple(sorted(set(wanted) - taken))
        fitting = tuple(
            number
            for number, parts in enumerate(PARTITIONS)
            if cells and all(not 0 < _n_people(blocks, cells, number, part) < k for part in parts)
        )
        if fitting:
            planned.append(PlannedParts(cells, fitting))
            taken.update(cells)
    return planned


def _n_people(blocks: Mapping[CellKey, Wears], cells: Sequence[CellKey], number: int, part: str) -> int:
    return len({person for cell in cells for person, own in blocks[cell] if any(each[number] == part for each in own)})
