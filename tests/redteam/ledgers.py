"""Invented histories of who wore what, and what builds make of them: our planner's sums, and tables made naively.

Only who and where; no readings. An atom is one person's contribution to one sealed sum: the name of the person's place
in a block.
"""

import hashlib
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any

import numpy as np

from pooling.ledger import (
    ANY_MODEL,
    EVERYONE,
    LEVELS,
    OPEN_WEARS_CAP,
    CellKey,
    Level,
    Plan,
    PlannedTie,
    Waiting,
    end_bucket,
    plan,
)
from pooling.simulate.community import GroupPlan, draw_people, draw_wearings
from pooling.simulate.law import SensorModelPlan
from pooling.vocabulary import REGIONS_WITH_ROW, SITES, region_of
from tests.redteam.algebra import Sum, total

MODELS = [SensorModelPlan(f"model-{i}", 14, (), share) for i, share in enumerate((0.42, 0.27, 0.17, 0.10, 0.04))]
NEVER = 10**6
K = 5

Planner = Callable[..., Plan]
Weight = Callable[[str, CellKey], int]


@dataclass(frozen=True, slots=True)
class Given:
    """A wear that was given to a group at a slot, and the slot from which it is taken back."""

    wear: str
    person: str
    wearer: str
    group: str
    feeds_everyone: bool
    site: str
    sensor_model: str
    slot: int
    gone_from: int = NEVER

    def waiting(self, slot: int, places_open: int = 0) -> Waiting:
        return Waiting(
            wear=self.wear,
            person=self.person,
            wearer=self.wearer,
            group=self.group,
            feeds_everyone=self.feeds_everyone,
            site=self.site,
            sensor_model=self.sensor_model,
            waited=slot - self.slot,
            aged=True,
            places_open=places_open,
        )

    @property
    def scopes(self) -> tuple[str, ...]:
        return (self.group, EVERYONE) if self.feeds_everyone else (self.group,)

    def margins(self) -> Iterator[str]:
        """Cells of a plain table in which the wear counts: all, region, site; any model and its own."""
        region = (region_of(self.site),) if region_of(self.site) in REGIONS_WITH_ROW else ()
        for scope in self.scopes:
            for place in ("all", *region, self.site):
                for model in (ANY_MODEL, self.sensor_model):
                    yield f"{scope}|{place}|{model}"


def community(
    rng: np.random.Generator,
    groups: Sequence[GroupPlan],
    *,
    n_slots: int = 1,
    wears_per_person: float = 4.5,
    leaving_frac: float = 0.0,
    joining: bool = False,
    alone: Iterable[str] = (),
) -> list[Given]:
    """What people of these groups give; some of them leave later, and some join later. `alone` feed nobody."""
    people = draw_people(rng, groups)
    wearings = draw_wearings(
        rng, people, sites=SITES, sensor_models=MODELS, slots=n_slots, wears_per_person=wears_per_person
    )
    gone = {
        one.person: int(rng.integers(2, n_slots + 2)) if rng.random() < leaving_frac else NEVER
        for one in sorted(people, key=lambda one: one.person)
    }
    since = {one.person: int(rng.integers(1, n_slots + 1)) if joining else 1 for one in people}
    lonely = set(alone)
    return [
        Given(
            f"w{number:05d}",
            wearing.person,
            wearing.wearer,
            wearing.group,
            wearing.group not in lonely,
            wearing.site,
            wearing.sensor_model,
            max(wearing.slot, since[wearing.person]),
            gone[wearing.person],
        )
        for number, wearing in enumerate(wearings)
    ]


@dataclass(frozen=True, slots=True)
class Block:
    slot: int
    cell: CellKey
    wears: tuple[str, ...]
    ends: int

    def seat(self, person: str) -> str:
        return f"{self.slot}|{self.cell.text}|{person}"


@dataclass
class Ledger:
    """Everything that was ever sealed. `owner` names the person behind each atom."""

    given: Mapping[str, Given]
    blocks: list[Block] = field(default_factory=list)
    ties: list[tuple[int, PlannedTie]] = field(default_factory=list)
    waiting: tuple[str, ...] = ()
    full: frozenset[str] = frozenset()

    @property
    def owner(self) -> dict[str, str]:
        return {block.seat(person): person for block in self.blocks for person in self.people(block)}

    def people(self, block: Block) -> list[str]:
        return sorted({self.given[wear].person for wear in block.wears})

    def sums(self, u: Weight = lambda person, cell: 1, w: Weight = lambda person, cell: 1) -> list[Sum]:
        """Blocks, then ties cell by cell, with weights of our choice."""
        at = {(block.slot, block.cell): block for block in self.blocks}
        found: list[Sum] = [
            {block.seat(person): u(person, block.cell) for person in self.people(block)} for block in self.blocks
        ]
        for slot, tie in self.ties:
            found += self._entries(tie, [at[slot, cell] for cell in tie.cells], w)
        return found

    def _entries(self, tie: PlannedTie, blocks: Sequence[Block], w: Weight) -> list[Sum]:
        """One sum a cell: how far each linker lies there from the linker's own mean over the cells of the tie."""
        linkers = set(tie.linkers)
        rows: list[dict[str, Fraction]] = [{} for _ in blocks]
        cells_of: dict[str, list[int]] = defaultdict(list)
        for number, block in enumerate(blocks):
            for person in sorted({self.given[n].person for n in block.wears if self.given[n].wearer in linkers}):
                cells_of[person].append(number)
        for person, own in cells_of.items():
            weights = {number: w(person, blocks[number].cell) for number in own}
            whole = sum(weights.values())
            for entry in own:
                for other in own:
                    part = Fraction(weights[entry] * (whole * (entry == other) - weights[other]), whole)
                    rows[entry][blocks[other].seat(person)] = part
        return list(rows)

    def shown(self, slot: int) -> dict[str, frozenset[int]]:
        """Cells of the edition of a slot: numbers of the open blocks of which each is made."""
        cells: dict[str, set[int]] = defaultdict(set)
        for number, block in enumerate(self.blocks):
            if block.slot <= slot < block.ends:
                for cell in _margins(block.cell, feeds=self.given[block.wears[0]].feeds_everyone):
                    cells[cell].add(number)
        return {cell: frozenset(inside) for cell, inside in cells.items()}


def _margins(cell: CellKey, *, feeds: bool) -> Iterator[str]:
    places = {"all", cell.place}
    if cell.place in SITES and region_of(cell.place) in REGIONS_WITH_ROW:
        places.add(region_of(cell.place))
    for scope in {cell.scope, EVERYONE} if feeds else {cell.scope}:
        for place in places:
            for model in {ANY_MODEL, cell.sensor_model or ANY_MODEL}:
                yield f"{scope}|{place}|{model}"


def slot_key(seed: object, slot: int) -> bytes:
    return hashlib.sha256(f"{seed} {slot}".encode()).digest()


def ours(
    given: Sequence[Given],
    *,
    n_slots: int,
    k: int = K,
    seed: object = 0,
    levels: Sequence[Level] = LEVELS,
    cap: int = OPEN_WEARS_CAP,
    planner: Planner = plan,
) -> Ledger:
    """Our planner, slot after slot. Wears that were admitted may be taken back: nothing asks."""
    ledger = Ledger({one.wear: one for one in given})
    held: dict[str, list[tuple[CellKey, int]]] = defaultdict(list)
    admitted: set[str] = set()
    for slot in range(1, n_slots + 1):
        queue = []
        for one in given:
            if one.slot <= slot < one.gone_from and one.wear not in admitted:
                n_open = sum(
                    slot < ends and cell.could_hold(one.site, one.sensor_model) for cell, ends in held[one.wearer]
                )
                queue.append(one.waiting(slot, n_open))
        outcome = planner(queue, slot_key=slot_key(seed, slot), k_of=lambda _: k, cap=cap, levels=levels)
        for block in outcome.blocks:
            ledger.blocks.append(Block(slot, block.cell, block.wears, end_bucket(slot)))
            admitted.update(block.wears)
            for wear in block.wears:
                held[ledger.given[wear].wearer].append((block.cell, end_bucket(slot)))
        ledger.ties += [(slot, tie) for tie in outcome.ties]
        ledger.waiting = outcome.still_waiting
        ledger.full = frozenset(one.wear for one in queue if one.places_open >= cap)
    return ledger


def naive_edition(given: Sequence[Given], slot: int, k: int = K) -> dict[str, frozenset[str]]:
    """The table that most would publish: every cell with k people in it at the time, and the wears it adds up."""
    cells: dict[str, set[str]] = defaultdict(set)
    person = {one.wear: one.person for one in given}
    for one in given:
        if one.slot <= slot < one.gone_from:
            for cell in one.margins():
                cells[cell].add(one.wear)
    return {cell: frozenset(inside) for cell, inside in cells.items() if len({person[wear] for wear in inside}) >= k}


def all_cells(given: Iterable[Given]) -> dict[str, frozenset[str]]:
    """Every cell that holds anybody."""
    return naive_edition([replace(one, slot=0, gone_from=NEVER) for one in given], 1, k=1)


def naive_sums(editions: Iterable[Mapping[str, frozenset[str]]]) -> list[Sum]:
    return [total(inside) for inside in {wears for shown in editions for wears in shown.values()}]


def owners_of(given: Iterable[Given]) -> dict[str, str]:
    return {one.wear: one.person for one in given}


def drawn_weights(rng: np.random.Generator, kinds: int) -> Weight:
    """Weights of few sizes: people of equal weight are those whose values can cancel."""
    table: dict[Any, int] = {}
    return lambda person, cell: table.setdefault((person, cell), int(rng.integers(1, kinds + 1)))
