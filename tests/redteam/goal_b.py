"""Goal B: the sparsest combination that trackers find covers at least k people.

Everything ever sealed is stacked, blocks and ties of all groups and slots, which is more than all editions of all
groups; for each contribution the combination is sought that keeps it and as little as possible of all others. A naive
build's editions are stacked likewise.
"""

from collections.abc import Iterator

import numpy as np

from pooling.simulate.community import GroupPlan
from tests.redteam.algebra import fewest_carriers
from tests.redteam.ledgers import Given, K, community, naive_edition, naive_sums, ours, owners_of
from tests.redteam.registry import Effort, Goal, Line


def run(effort: Effort) -> Iterator[Line]:
    n_editions, n_worlds = effort.pick(20, 6), effort.pick(5, 1)
    smallest, covers, n_naive, found_naive = [], [], 0, []
    for number in range(n_worlds):
        rng = np.random.default_rng([effort.seed, 2, number])
        given = _world(rng, effort.pick(150, 60), n_editions)
        ledger = ours(given, n_slots=n_editions, seed=number)
        seats = sorted(ledger.owner)
        targets = rng.permutation(seats)[: effort.pick(400, 60)].tolist()
        covers += fewest_carriers(ledger.sums(), ledger.owner, targets)
        smallest.append(min(covers))
        editions = [naive_edition(given, slot) for slot in range(1, effort.pick(4, 3))]
        wears = sorted({wear for shown in editions for inside in shown.values() for wear in inside})
        chosen = rng.permutation(wears)[: effort.pick(20, 5)].tolist()
        found_naive += fewest_carriers(naive_sums(editions), owners_of(given), chosen)
        n_naive += len(chosen)
    below = sum(n < K for n in covers)
    below_naive = sum(n < K for n in found_naive)
    yield Line(
        f"{len(covers):,} targets in {n_worlds} times {n_editions} editions: below {K} people",
        f"{below_naive} of {n_naive}, smallest {min(found_naive)}",
        f"{below}, smallest {min(covers)}",
        below == 0 < below_naive,
    )


def _world(rng: np.random.Generator, n_people: int, n_editions: int) -> list[Given]:
    groups = [GroupPlan(f"g{n}", n_people // 3) for n in range(3)]
    return community(rng, groups, n_slots=n_editions, wears_per_person=5.0, leaving_frac=0.2, joining=True)


GOAL = Goal("B", "The sparsest combination that trackers find covers at least k people.", run)
