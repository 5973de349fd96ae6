"""Sums part by part: what a ledger's blocks and ties add up when the pairs of each wear are told apart by partitions.

An atom is then what one wear has in one crossing of the partitions, with its weight in the block.
"""

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import product

import numpy as np

from pooling.ledger import CellKey, Crossing, PlannedParts, bundles_to_try, plan_parts
from tests.redteam.algebra import Sum
from tests.redteam.ledgers import Block, Ledger, Weight

PARTITIONS = (("early", "late"), ("low", "mid", "high"))

Wears = Sequence[tuple[str, frozenset[Crossing]]]
PlanParts = Callable[..., Sequence[PlannedParts]]


def crossings(rng: np.random.Generator, ledger: Ledger) -> dict[str, frozenset[Crossing]]:
    """Where each counted wear has pairs: at least somewhere, often not everywhere."""
    everywhere = list(product(*PARTITIONS))
    share = rng.uniform(0.3, 0.9)
    return {
        wear: frozenset(each for each in everywhere if rng.random() < share) or frozenset(everywhere[:1])
        for block in ledger.blocks
        for wear in block.wears
    }


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
