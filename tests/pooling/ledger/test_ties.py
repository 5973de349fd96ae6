"""Ties, and what is sealed beside them: who can be isolated, tried over all small sets of people."""

from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from itertools import combinations

import numpy as np
import pytest

from pooling.ledger import PlannedTie, plan_ties, uncovered
from pooling.ledger.ties import smallest_cut
from tests.calibration.pools import simulate, ties_between

A, B, C, D = "abcd"


def trying_all_cuts(cells, edges):
    best = len(edges) + 1
    for size in range(1, len(cells)):
        for side in map(set, combinations(cells, size)):
            best = min(best, sum(1 for edge in edges if edge & side and edge - side))
    return best


@pytest.mark.parametrize("seed", range(25))
def test_smallest_cut_is_that_of_trying_all(seed):
    rng = np.random.default_rng(seed)
    cells = list(range(int(rng.integers(2, 8))))
    edges = [
        frozenset(rng.choice(cells, int(rng.integers(1, min(4, len(cells)) + 1)), replace=False).tolist())
        for _ in range(int(rng.integers(0, 20)))
    ]
    count, side = smallest_cut(cells, edges)
    assert count == trying_all_cuts(cells, edges)
    assert 0 < len(side) < len(cells)
    assert count == sum(1 for edge in edges if edge & side and edge - side)


def test_a_bridge_of_one_person_is_cut():
    """A rule "this cell and any other by k people" would pass this and give the person of the bridge away."""
    people = {f"l{i}": (A, B) for i in range(5)} | {"bridge": (B, C)} | {f"r{i}": (C, D) for i in range(5)}
    people |= {f"s{i}": (A,) for i in range(5)} | {f"t{i}": (D,) for i in range(5)}
    found = plan_ties(people, 5)
    assert [tie.cells for tie in found] == [(A, B), (C, D)]
    assert all("bridge" not in tie.linkers for tie in found)


def test_pairs_too_thin_on_their_own_can_hold_together():
    ring = {f"p{i}": pair for i, pair in enumerate([(A, B), (B, C), (A, C)] * 3)} | {f"s{i}": (A,) for i in range(5)}
    (tie,) = plan_ties(ring, 5)
    assert tie.cells == (A, B, C)
    assert len(tie.linkers) == 9


def test_k_people_stay_outside_or_are_held_back():
    everybody = {f"p{i:02d}": (A, B) for i in range(12)}
    (tie,) = plan_ties(everybody, 5)
    assert tie.linkers == tuple(f"p{i:02d}" for i in range(7))
    assert plan_ties({f"p{i}": (A, B) for i in range(9)}, 5) == ()


def test_nothing_links_nothing():
    assert plan_ties({}, 5) == ()
    assert plan_ties({f"p{i}": (A,) for i in range(9)}, 5) == ()


# ---- cells and ties together ----------------------------------------------------------------------------------------

PRIME = 2**61 - 1
Weight = Callable[[str, str], int]


def equal(person: str, cell: str) -> int:
    return 1


def rows_of(
    cells_of: Mapping[str, Sequence[str]], ties: Sequence[PlannedTie], u: Weight, w: Weight
) -> tuple[list[tuple[str, str]], list[list[int]]]:
    """Every sealed sum, as the coefficient of each (person, cell): fractions, taken modulo a large prime."""
    atoms = [(person, cell) for person, cells in cells_of.items() for cell in cells]
    rows = [
        [Fraction(u(person, cell) * (cell == block)) for person, cell in atoms]
        for block in sorted({c for _, c in atoms})
    ]
    for tie in ties:
        for entry in tie.cells:
            rows.append([_part(cells_of[person], tie, person, cell, entry, w) for person, cell in atoms])
    return atoms, [[value.numerator * pow(value.denominator, -1, PRIME) % PRIME for value in row] for row in rows]


def _part(cells: Sequence[str], tie: PlannedTie, person: str, cell: str, entry: str, w: Weight) -> Fraction:
    own = [c for c in cells if c in tie.cells]
    if person not in tie.linkers or cell not in own or entry not in own:
        return Fraction(0)
    return w(person, entry) * (int(cell == entry) - Fraction(w(person, cell), sum(w(person, c) for c in own)))


def rank(rows: list[list[int]]) -> int:
    """Rank modulo a large prime: never larger than the true one, and smaller by a chance of one in the prime."""
    basis: dict[int, list[int]] = {}
    for row in rows:
        rest = row
        for column in range(len(rest)):
            if rest[column] and column in basis:
                factor = rest[column]
                rest = [(a - factor * b) % PRIME for a, b in zip(rest, basis[column], strict=True)]
            elif rest[column]:
                inverse = pow(rest[column], -1, PRIME)
                basis[column] = [value * inverse % PRIME for value in rest]
                break
    return len(basis)


def isolated(
    cells_of: Mapping[str, Sequence[str]], ties: Sequence[PlannedTie], k: int, u: Weight = equal, w: Weight = equal
):
    """Sets of fewer than k people of whom some combination speaks and of nobody else."""
    atoms, rows = rows_of(cells_of, ties, u, w)
    whole = rank(rows)
    found = []
    for size in range(1, k):
        for group in combinations(cells_of, size):
            kept = [index for index, (person, _) in enumerate(atoms) if person not in group]
            if rank([[row[index] for index in kept] for row in rows]) < whole:
                found.append(group)
    return found


def crowd(rng: np.random.Generator, n_people: int, n_cells: int, share: float, k: int) -> dict[str, tuple[str, ...]]:
    """People who wear each cell with some chance; cells with fewer than k people are not there."""
    cells_of = {f"p{i:02d}": [c for c in "abcdef"[:n_cells] if rng.random() < share] for i in range(n_people)}
    enough = {c for c in "abcdef" if sum(c in own for own in cells_of.values()) >= k}
    return {person: tuple(c for c in own if c in enough) for person, own in cells_of.items() if enough & set(own)}


def drawn(rng: np.random.Generator, kinds: int) -> Weight:
    """Weights of a few sizes: people of equal weight are those whose values can cancel."""
    table: dict[tuple[str, str], int] = {}
    return lambda person, cell: table.setdefault((person, cell), int(rng.integers(1, kinds + 1)))


@pytest.mark.parametrize("k", [2, 3])
@pytest.mark.parametrize("share", [0.4, 0.7, 0.9, 0.97])
def test_no_combination_of_cells_and_ties_isolates_fewer_than_k_people(k, share):
    n_ties = 0
    for seed in range(25):
        rng = np.random.default_rng([seed, int(100 * share), k])
        cells_of = crowd(rng, n_people=int(rng.integers(4, 13)), n_cells=int(rng.integers(2, 5)), share=share, k=k)
        ties = plan_ties(cells_of, k)
        n_ties += len(ties)
        for u, w in ((equal, equal), (drawn(rng, 2), drawn(rng, 2)), (drawn(rng, 1000), drawn(rng, 1000))):
            assert isolated(cells_of, ties, k, u, w) == [], (seed, cells_of)
    assert n_ties >= 5


def test_four_of_five_are_safe_as_well():
    for seed in range(4):
        rng = np.random.default_rng(seed)
        cells_of = crowd(rng, n_people=14, n_cells=3, share=0.75, k=5)
        assert isolated(cells_of, plan_ties(cells_of, 5), 5) == []


def by_cuts_alone(cells_of: Mapping[str, Sequence[str]], k: int) -> list[PlannedTie]:
    """The plan most would write: everybody at two cells links; nobody looks at what the cells' own sums add."""
    linkers = {person: cells for person, cells in cells_of.items() if len(cells) > 1}
    cells = sorted({cell for own in linkers.values() for cell in own})
    edges = [frozenset(own) for own in linkers.values()]
    return [PlannedTie(tuple(cells), tuple(linkers))] if len(cells) > 1 and smallest_cut(cells, edges)[0] >= k else []


def test_the_same_attack_breaks_a_plan_that_only_looks_at_cuts():
    """Where nearly everybody wears both, the totals less twice the tie are the few who do not."""
    broken = 0
    for seed in range(40):
        rng = np.random.default_rng(seed)
        cells_of = crowd(rng, n_people=12, n_cells=2, share=0.93, k=3)
        broken += bool(isolated(cells_of, by_cuts_alone(cells_of, 3), 3))
    assert broken >= 20


def test_k_people_outside_a_tie_are_not_enough():
    """Six wear all three cells and five more wear a. b and c hold the same six people, of whom one weighs more at b.

    With equal weights, the difference of b and c is a combination of the tie's numbers, and nothing is left. With one
    weight that differs, it leaves that one.
    """
    cells_of = {f"p{i}": (A, B, C) for i in range(6)} | {f"q{i}": (A,) for i in range(5)}
    naive = [PlannedTie((A, B, C), tuple(f"p{i}" for i in range(6)))]
    assert isolated(cells_of, naive, 2) == []
    assert isolated(cells_of, naive, 2, lambda person, cell: 1 + (person == "p3" and cell == B)) == [("p3",)]
    assert uncovered((A, B, C), {f"p{i}": (A, B, C) for i in range(6)}, [(A,)] * 5, 5) == {B, C}
    assert plan_ties(cells_of, 5) == ()


@pytest.mark.parametrize("seed", range(40))
def test_the_search_agrees_with_trying_every_set_of_cells(seed):
    rng = np.random.default_rng(seed)
    k = int(rng.integers(2, 6))
    cells = "abcdef"[: int(rng.integers(2, 7))]

    def own(least: int) -> frozenset[str]:
        return frozenset(rng.permutation(list(cells))[: int(rng.integers(least, len(cells) + 1))].tolist())

    linkers = {f"p{i}": own(2) for i in range(int(rng.integers(0, 12)))}
    others = [own(1) for _ in range(int(rng.integers(0, 6)))]

    def left(chosen: set[str]) -> int:
        return sum(len(o & chosen) == 1 for o in linkers.values()) + sum(bool(o & chosen) for o in others)

    exposed = [set(s) for size in range(1, len(cells) + 1) for s in combinations(cells, size) if left(set(s)) < k]
    found = uncovered(cells, linkers, others, k)
    assert (found is None) == (not exposed)
    assert found is None or set(found) in exposed


def test_a_search_that_takes_too_long_holds_back_rather_than_lets_pass(monkeypatch):
    cells_of = {f"p{i}": (A, B, C) for i in range(12)} | {f"{c}{i}": (c,) for c in (A, B, C) for i in range(2)}
    assert len(plan_ties(cells_of, 3)[0].linkers) == 12
    monkeypatch.setattr("pooling.ledger.ties.MOST_STEPS", 0)
    assert sum(len(tie.linkers) for tie in plan_ties(cells_of, 3)) < 12


def test_a_catalogue_of_a_thousand_models_is_searched_too():
    """A chain of neighbours: whatever is taken in, two linkers at most are left, and the search goes on to its end."""
    chain = {f"p{i:04d}": (i, i + 1) for i in range(1_005)}
    assert uncovered(range(1_006), chain, [], 3) == frozenset(range(1_006))


@pytest.mark.parametrize(("n_people", "fewest", "most"), [(30, 0.5, 0.75), (45, 0.9, 0.99), (60, 0.98, 1.0)])
def test_holding_back_costs_much_in_small_pools_alone(n_people, fewest, most):
    """Share of linkers that stay, at 7 places."""
    stay = linkers = 0
    for seed in range(12):
        blocks = simulate(np.random.default_rng([seed, n_people]), n_people=n_people, n_cells=7).blocks()
        people = [member.person for _, members in blocks for member in {one.person: one for one in members}.values()]
        linkers += sum(people.count(person) > 1 for person in set(people))
        stay += sum(len(tie.linkers) for tie in ties_between(blocks))
    assert fewest <= stay / linkers <= most
