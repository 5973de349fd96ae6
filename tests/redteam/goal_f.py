"""Goal F: groups that share members do not give them away to one another.

Members belong to several groups. A naive build lets a wear count in the table of every group that its owner shares
with, each table of k people and more; then the difference of two tables is whoever shares with one only. With us a wear
is given to one group, and feeds everyone beside it. All groups, pairs and triples of groups are looked at.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np

from pooling.ledger import EVERYONE
from pooling.simulate.community import GroupPlan
from tests.redteam.algebra import Told
from tests.redteam.ledgers import Given, Ledger, community, naive_edition, naive_sums, ours, owners_of
from tests.redteam.registry import Effort, Goal, Line

GROUPS = ("harbour", "lantern", "orchard")
N_SLOTS = 6
N_ONE_ONLY = 3


def run(effort: Effort) -> Iterator[Line]:
    n_worlds = effort.pick(20, 2)
    naive, ours_found, n_sets = [], [], 0
    for number in range(n_worlds):
        rng = np.random.default_rng([effort.seed, 6, number])
        given, shared = _world(rng, effort.pick(45, 24))
        naive.append(_naive(given, shared))
        ledger = ours(given, n_slots=N_SLOTS, seed=number)
        for size in (1, 2, 3):
            for seen in combinations(GROUPS, size):
                for scopes in ({*seen}, {*seen, EVERYONE}):
                    ours_found.append(_isolated(ledger, scopes))
                    n_sets += 1
    yield Line(
        f"{n_worlds} worlds, {n_sets} views of groups: people exposed",
        f"{sum(len(each) for each in naive)} in {sum(map(bool, naive))} of {n_worlds}",
        f"{sum(len(each) for each in ours_found)}",
        not any(ours_found) and all(naive),
    )


def _world(rng: np.random.Generator, n_people: int) -> tuple[list[Given], dict[str, frozenset[str]]]:
    """Most share with two or three groups, a few with the first only; each wear goes to one group of its owner's."""
    given = community(rng, [GroupPlan("harbour", n_people)], n_slots=N_SLOTS, wears_per_person=8.0)
    people = sorted({one.person for one in given})
    with_all = [frozenset(GROUPS), frozenset(GROUPS[:2])]
    shared = {
        person: frozenset(GROUPS[:1]) if number < N_ONE_ONLY else with_all[int(rng.integers(2))]
        for number, person in enumerate(rng.permutation(people).tolist())
    }
    return [replace(one, group=str(rng.choice(sorted(shared[one.person])))) for one in given], shared


def _naive(given: Sequence[Given], shared: dict[str, frozenset[str]]) -> list[tuple[str, ...]]:
    """Every wear counts in every group that its owner shares with; the sets of one or two people that come out."""
    everywhere = [replace(one, group=group, feeds_everyone=False) for one in given for group in shared[one.person]]
    return Told(naive_sums([naive_edition(everywhere, N_SLOTS)]), owners_of(given)).isolated(2)


def _isolated(ledger: Ledger, scopes: set[str]) -> list[tuple[str, ...]]:
    seen = Ledger(ledger.given, [block for block in ledger.blocks if block.cell.scope in scopes])
    seen.ties = [(slot, tie) for slot, tie in ledger.ties if tie.cells[0].scope in scopes]
    return Told(seen.sums(), seen.owner).isolated(2)


GOAL = Goal("F", "Groups that share members give nobody away, over all groups, pairs and triples of them.", run)
