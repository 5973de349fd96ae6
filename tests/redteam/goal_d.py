"""Goal D: no two versions of a cell, of any two editions, differ by somebody but by fewer than k people.

Twenty editions while people join, wear and leave. The attacker subtracts every version of a cell from every other.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from itertools import combinations

import numpy as np

from pooling.simulate.community import GroupPlan
from tests.redteam.ledgers import K, community, naive_edition, ours, owners_of
from tests.redteam.registry import Effort, Goal, Line

N_EDITIONS = 20


def run(effort: Effort) -> Iterator[Line]:
    n_worlds = effort.pick(10, 1)
    totals = {"naive": Counter[str](), "ours": Counter[str]()}
    for number in range(n_worlds):
        rng = np.random.default_rng([effort.seed, 4, number])
        groups = [GroupPlan("harbour", effort.pick(250, 90)), GroupPlan("lantern", 30)]
        given = community(
            rng, groups, n_slots=N_EDITIONS, wears_per_person=6.0, leaving_frac=0.15, joining=True, alone=["lantern"]
        )
        person = owners_of(given)
        ledger = ours(given, n_slots=N_EDITIONS, seed=number)
        slots = range(1, N_EDITIONS + 1)
        totals["naive"] += differences([naive_edition(given, slot) for slot in slots], person)
        seats = [frozenset(block.wears) for block in ledger.blocks]
        totals["ours"] += differences(
            [
                {cell: frozenset().union(*(seats[n] for n in inside)) for cell, inside in ledger.shown(slot).items()}
                for slot in slots
            ],
            person,
        )
    naive, found = totals["naive"], totals["ours"]
    what = f"{n_worlds} times {N_EDITIONS} editions, {found['pairs']:,} pairs of versions"
    yield Line(f"{what}: below {K}", f"{naive['thin']:,}", f"{found['thin']}", found["thin"] == 0 < naive["thin"])
    yield Line(
        "people singled out by one subtraction",
        f"{naive['singled out']:,}",
        f"{found['singled out']}",
        found["singled out"] == 0 and naive["singled out"] > 20 * n_worlds,
    )


def differences(editions: Iterable[Mapping[str, frozenset[str]]], person: Mapping[str, str]) -> Counter[str]:
    """Pairs of different versions of a cell, those that fewer than k people lie between, and the people so found."""
    versions: dict[str, set[frozenset[str]]] = {}
    for shown in editions:
        for cell, wears in shown.items():
            versions.setdefault(cell, set()).add(wears)
    found: Counter[str] = Counter()
    alone: set[str] = set()
    for seen in versions.values():
        for one, other in combinations(seen, 2):
            between = {person[wear] for wear in one ^ other}
            found["pairs"] += 1
            found["thin"] += len(between) < K
            alone |= between if len(between) == 1 else set()
    found["singled out"] = len(alone)
    return found


GOAL = Goal("D", "No two versions of a cell differ by somebody but by fewer than k people; nobody is singled out.", run)
