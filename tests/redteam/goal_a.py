"""Goal A: from one edition nobody's part, and no hidden count, can be worked out.

Random communities whose tables have 200 to 500 cells. The attacker knows which cells are empty and solves everything
published for everything that is not: alone, and together with one insider who takes out the own wears. A naive build
publishes the exact number of wears of every cell with k people.
"""

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from pooling.audit import AuditRow, audit
from pooling.ledger import ANY_MODEL, EVERYONE
from pooling.protection import FULL_ROW_PEOPLE, publish_count
from pooling.simulate.community import GroupPlan
from tests.redteam.algebra import Told, intervals, total
from tests.redteam.ledgers import Block, Given, K, Ledger, all_cells, community, naive_edition, naive_sums, owners_of
from tests.redteam.ledgers import ours as our_ledger
from tests.redteam.registry import Effort, Goal, Line

LEAST_WIDTH_WEARS = 5
ROUNDED_BY = 2  # wears, on either side of a multiple of five
SLOT = 5  # everything has waited long enough for every level


@dataclass
class Found:
    """What an attacker worked out in one world."""

    n_hidden: int
    n_recovered: int
    n_alone: int
    n_with_insider: int
    n_narrow: int


def run(effort: Effort) -> Iterator[Line]:
    rng = np.random.default_rng([effort.seed, 1])
    sizes = np.geomspace(60, effort.pick(1000, 110), effort.pick(50, 2)).round().astype(int).tolist()
    worlds = [_world(rng, n_people) for n_people in sizes]
    n_cells = [len(all_cells(world)) for world in worlds]
    naive = [_naive(world) for world in worlds[:: effort.pick(10, 1)]]
    ours, narrowest, n_refused = [], [], 0
    for number, world in enumerate(worlds):
        ledger = our_ledger(world, n_slots=SLOT, seed=number)
        found, least = _ours(world, ledger)
        ours.append(found)
        narrowest.append(least)
        n_refused += not _passes_audit(ledger)
    what = f"{len(worlds)} worlds of {sizes[0]} to {sizes[-1]:,} people, {min(n_cells)} to {max(n_cells)} cells"
    yield _line(f"{what}: hidden cells", naive, ours, "n_recovered", of="n_hidden")
    yield _line("people alone in a combination", naive, ours, "n_alone")
    yield _line("people alone with one insider", naive, ours, "n_with_insider")
    yield _line(f"hidden counts known within {LEAST_WIDTH_WEARS} wears", naive, ours, "n_narrow", of="n_hidden")
    yield Line(
        "narrowest hidden count, in wears; the auditor's word",
        "0",
        f"{min(narrowest):.0f}; {n_refused} refused",
        min(narrowest) >= LEAST_WIDTH_WEARS and n_refused == 0,
    )


def _line(attack: str, naive: Sequence[Found], ours: Sequence[Found], name: str, of: str = "") -> Line:
    counts = [sum(getattr(found, name) for found in each) for each in (naive, ours)]
    wholes = [f" of {sum(getattr(found, of) for found in each):,}" if of else "" for each in (naive, ours)]
    told = [f"{count:,}{whole}" for count, whole in zip(counts, wholes, strict=True)]
    return Line(attack, told[0], told[1], counts[1] == 0 < counts[0])


def _world(rng: np.random.Generator, n_people: int) -> list[Given]:
    """Two to five groups, one of which may feed nobody but itself."""
    n_groups = int(rng.integers(2, 6))
    shares = rng.dirichlet(np.full(n_groups, 2.0))
    groups = [GroupPlan(f"g{n}", 1 + int(share * n_people)) for n, share in enumerate(shares)]
    return community(rng, groups, alone=["g0"] if rng.random() < 0.3 else [])


def _naive(given: Sequence[Given]) -> Found:
    everything, shown = all_cells(given), naive_edition(given, SLOT)
    hidden = [cell for cell in everything if cell not in shown]
    told = Told(naive_sums([shown]), owners_of(given))
    alone, pairs = _exposed(told, most=2 if len(given) < 400 else 1)
    widths = _widths(given, {cell: (len(wears), len(wears)) for cell, wears in shown.items()}, hidden)
    return Found(
        n_hidden=len(hidden),
        n_recovered=sum(told.tells(total(everything[cell])) for cell in hidden),
        n_alone=alone,
        n_with_insider=pairs,
        n_narrow=int((widths < LEAST_WIDTH_WEARS).sum()),
    )


def _exposed(told: Told, most: int = 2) -> tuple[int, int]:
    """How many people are alone in a combination, and how many more in one with a single other."""
    sets = told.isolated(most)
    alone = {person for found in sets if len(found) == 1 for person in found}
    return len(alone), len({person for found in sets for person in found} - alone)


def _ours(given: Sequence[Given], ledger: Ledger) -> tuple[Found, float]:
    """Everything sealed, which is more than what is published; of counts, what is published."""
    alone, pairs = _exposed(Told(ledger.sums(), ledger.owner))
    everything = all_cells(given)
    people = owners_of(given)
    by_wear = Told([total(block.wears) for block in ledger.blocks], people)
    hidden = [wears for wears in everything.values() if len({people[wear] for wear in wears}) < K]
    widths = _our_widths(ledger)
    found = Found(
        n_hidden=len(hidden),
        n_recovered=sum(by_wear.tells(total(wears)) for wears in hidden),
        n_alone=alone,
        n_with_insider=pairs,
        n_narrow=int((widths < LEAST_WIDTH_WEARS).sum()),
    )
    return found, float(widths.min(initial=np.inf))


# Numbers of wears


def _widths(
    given: Sequence[Given], published: Mapping[str, tuple[int, int]], asked: Collection[str]
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Widths of cells of a plain table; the unknown counts are those of group, site and model."""
    leaves: dict[tuple[str, ...], int] = {}
    for one in given:
        leaves.setdefault(tuple(one.margins()), len(leaves))
    rows = {cell: np.zeros(len(leaves), dtype=np.int64) for cell in {*published, *asked}}
    for cells, number in leaves.items():
        for cell in cells:
            if cell in rows:
                rows[cell][number] = 1
    low, high = (np.array([ends[side] for ends in published.values()], dtype=float) for side in (0, 1))
    parts = np.array([rows[cell] for cell in published])
    return intervals(parts, low, high, np.array([rows[cell] for cell in asked]).reshape(len(asked), len(leaves)))


def _our_widths(ledger: Ledger) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Widths of the rows of an edition that show no count, and of the cells that have no row by themselves."""
    cells = sorted({block.cell for block in ledger.blocks})
    place = {cell: number for number, cell in enumerate(cells)}
    n_wears = dict.fromkeys(cells, 0)
    rows: dict[str, set[int]] = defaultdict(set)
    people: dict[str, set[str]] = defaultdict(set)
    for block in ledger.blocks:
        n_wears[block.cell] += len(block.wears)
        for row in _rows_with(block, ledger):
            rows[row].add(place[block.cell])
            people[row].update(ledger.people(block))
    counted = [row for row in rows if len(people[row]) >= FULL_ROW_PEOPLE]
    indicator = {row: np.isin(np.arange(len(cells)), list(inside)).astype(np.int64) for row, inside in rows.items()}
    counts = np.array([n_wears[cell] for cell in cells])
    shown = np.array([float(publish_count(int(indicator[row] @ counts)).value or 0) for row in counted])
    parts = np.array([indicator[row] for row in counted]).reshape(len(counted), len(cells))
    hidden = [indicator[row] for row in rows if row not in counted]
    return intervals(parts, shown - ROUNDED_BY, shown + ROUNDED_BY, np.array(hidden).reshape(len(hidden), len(cells)))


def _rows_with(block: Block, ledger: Ledger) -> Iterator[str]:
    """Rows of the tables of sites, and of sites by sensor model, and what stands behind one of the first alone."""
    feeds = ledger.given[block.wears[0]].feeds_everyone
    for scope in {block.cell.scope, EVERYONE} if feeds else {block.cell.scope}:
        yield f"{scope}|{block.cell.place}|any"
        yield f"{scope}|{block.cell.place}|{block.cell.sensor_model or ANY_MODEL}"


def _passes_audit(ledger: Ledger) -> bool:
    rows = [
        AuditRow(str(number), "sum", tuple(held), tuple(map(float, held.values())))
        for number, held in enumerate(ledger.sums())
    ]
    return audit(rows, ledger.owner, k=K).passed


GOAL = Goal("A", "From one edition nobody's part and no hidden count is worked out, alone or with one insider.", run)
