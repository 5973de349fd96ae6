from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from pooling.errors import InvalidInput, TooFewPeople
from pooling.sealing import CHANNELS, SEAL_VERSION_1, Cell, Member, TieComponent, seal_tie, seal_ties, tie_components
from pooling.sealing.ties import smallest_cut
from pooling.sealing.unit import units_of
from tests.calibration.pools import Stratum, Summary, simulate

FREE = SEAL_VERSION_1.unrounded(number=99, grid_bits=60)
A, B, C, D = (Cell("everyone", name) for name in "abcd")


def wear(person, seed, account=None, n_pairs=20):
    readings = 0.1 * np.random.default_rng(seed).standard_normal(n_pairs)
    return Member(person, account or f"account of {person}", Summary({"all": Stratum.of(readings)}))


def worn(cells_of, seed=0):
    """One wear a person and cell, as blocks."""
    blocks = {}
    for person in sorted(cells_of):
        for cell in cells_of[person]:
            seed += 1
            blocks.setdefault(cell, []).append(wear(person, seed))
    return sorted(blocks.items())


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
    found = tie_components(people, 5)
    assert [component.cells for component in found] == [(A, B), (C, D)]
    assert all("bridge" not in component.linkers for component in found)


def test_pairs_too_thin_on_their_own_can_hold_together():
    ring = {f"p{i}": pair for i, pair in enumerate([(A, B), (B, C), (A, C)] * 3)} | {f"s{i}": (A,) for i in range(5)}
    (component,) = tie_components(ring, 5)
    assert component.cells == (A, B, C)
    assert len(component.linkers) == 9


def test_k_people_stay_outside_or_are_held_back():
    everybody = {f"p{i:02d}": (A, B) for i in range(12)}
    (component,) = tie_components(everybody, 5)
    assert component.linkers == tuple(f"p{i:02d}" for i in range(7))
    assert tie_components({f"p{i}": (A, B) for i in range(9)}, 5) == ()


def test_nothing_links_nothing():
    assert tie_components({}, 5) == ()
    assert tie_components({f"p{i}": (A,) for i in range(9)}, 5) == ()


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("share", [0.5, 0.8, 0.95])
def test_blocks_and_ties_together_isolate_neither_a_person_nor_two(seed, share):
    """Rank test with equal weights, which is the leaky case: who wears which cell almost always, and ties of them.

    If some combination of all sealed numbers involves a person and nobody else, the person's columns hold a direction
    that the other people's columns do not; the rank then falls by less than the number of rows that survive.
    """
    rng = np.random.default_rng([seed, int(100 * share)])
    cells = (A, B, C)
    present = {f"p{i:02d}": tuple(cell for cell in cells if rng.random() < share) for i in range(23)}
    present = {person: own for person, own in present.items() if own}
    components = tie_components(present, 5)
    atoms = [(person, cell) for person, own in present.items() for cell in own]
    rows = [[float(cell == block) for _, cell in atoms] for block in cells]
    for component in components:
        for block in component.cells:
            rows.append([_tie_coefficient(present, component, person, cell, block) for person, cell in atoms])
    matrix = np.array(rows)
    rank = np.linalg.matrix_rank(matrix, tol=1e-9)
    for size in (1, 2):
        for group in combinations(present, size):
            others = matrix[:, [person not in group for person, _ in atoms]]
            assert np.linalg.matrix_rank(others, tol=1e-9) == rank, group


def _tie_coefficient(present, component, person, cell, block):
    own = [c for c in present[person] if c in component.cells]
    if person not in component.linkers or cell not in own or block not in own:
        return 0.0
    return float(cell == block) - 1 / len(own)


def test_the_rank_test_would_see_a_leak():
    """Without anybody held back, one person outside a tie of all others is told exactly: total a - total b - 2 r_a."""
    people = [f"p{i}" for i in range(8)]
    atoms = [(person, cell) for person in people for cell in (A, B)] + [("alone", A)]
    rows = [[float(cell == block) for _, cell in atoms] for block in (A, B)]
    rows += [
        [0.0 if person == "alone" else (0.5 if cell == block else -0.5) for person, cell in atoms] for block in (A, B)
    ]
    matrix = np.array(rows)
    others = matrix[:, [person != "alone" for person, _ in atoms]]
    assert np.linalg.matrix_rank(others) < np.linalg.matrix_rank(matrix)


def test_sums_are_those_of_the_linkers():
    cells_of = {f"p{i}": (A, B) for i in range(6)} | {f"q{i}": (A,) for i in range(5)}
    blocks = worn(cells_of)
    (component,) = tie_components(cells_of, 5)
    tie = seal_tie(component, blocks, end_bucket=4, version=FREE, k=5)
    assert (tie.n_people, tie.cells, tie.scope) == (6, (A, B), "everyone")
    units = {cell: {unit.person: unit for unit in units_of(members, FREE)} for cell, members in blocks}
    for channel in CHANNELS:
        right, total = np.zeros(2), 0.0
        for person in component.linkers:
            a, b = (units[cell][person].channels[channel] for cell in (A, B))
            weight = a.q2 * b.q2 / (a.q2 + b.q2)
            right += weight * (a.value - b.value) * np.array([1, -1])
            total += weight * (a.value - b.value) ** 2
        numbers = [FREE.from_grid(unit) for unit in tie.sums[channel]]
        np.testing.assert_allclose(numbers[:2], right, rtol=1e-10, atol=1e-14)
        assert numbers[-4] == pytest.approx(total, rel=1e-10)
        assert numbers[-3] == 6


def test_a_linkers_own_level_cancels():
    """Everything a person adds at all of their cells leaves the right-hand side as it was."""
    cells_of = {f"p{i}": (A, B, C) for i in range(6)} | {f"q{i}": (A,) for i in range(5)}
    blocks = worn(cells_of)
    raised = [
        (
            cell,
            [
                Member(
                    m.person,
                    m.account,
                    Summary({"all": replace(m.summary.strata["all"], m=m.summary.strata["all"].m + 0.07)}),
                )
                for m in members
            ],
        )
        for cell, members in blocks
    ]
    (component,) = tie_components(cells_of, 5)
    one, other = (
        seal_tie(component, found, end_bucket=4, version=FREE, k=5).sums["location"][:3] for found in (blocks, raised)
    )
    np.testing.assert_allclose(
        [FREE.from_grid(unit) for unit in one], [FREE.from_grid(unit) for unit in other], atol=1e-14
    )


def test_sealed_entries_lie_on_steps_that_hide_one_linker():
    cells_of = {f"p{i}": (A, B) for i in range(6)} | {f"q{i}": (A,) for i in range(5)}
    (tie,) = seal_ties(worn(cells_of), end_bucket=4, version=SEAL_VERSION_1, k=5)
    for channel in CHANNELS:
        first, second, variance, _ = (SEAL_VERSION_1.from_grid(unit) for unit in tie.sums[channel][:4])
        step = np.sqrt(12 * variance)
        assert first / step == pytest.approx(round(first / step), abs=1e-4)
        assert second / step == pytest.approx(round(second / step), abs=1e-4)


def test_order_of_members_does_not_matter():
    rng = np.random.default_rng(6)
    blocks = simulate(rng, n_people=60, n_cells=3).blocks(rng)
    expected = seal_ties(blocks, end_bucket=4, version=SEAL_VERSION_1, k=5)
    assert expected
    shuffled = [(cell, [members[i] for i in rng.permutation(len(members))]) for cell, members in blocks[::-1]]
    assert seal_ties(shuffled, end_bucket=4, version=SEAL_VERSION_1, k=5) == expected


def test_wearers_of_one_account_do_not_add_cover():
    children = {f"child{i}": (A, B) for i in range(6)} | {f"q{i}": (A,) for i in range(5)}
    blocks = [
        (cell, [replace(m, account="one household") if m.person.startswith("child") else m for m in members])
        for cell, members in worn(children)
    ]
    assert seal_ties(blocks, end_bucket=4, version=SEAL_VERSION_1, k=5) == ()


def test_what_tie_components_would_not_give_is_refused():
    cells_of = {f"p{i}": (A, B) for i in range(6)} | {f"q{i}": (A,) for i in range(5)}
    blocks = worn(cells_of)
    everyone = tuple(sorted(cells_of))
    seal = lambda component: seal_tie(component, blocks, end_bucket=4, version=FREE, k=5)  # noqa: E731
    with pytest.raises(InvalidInput, match="two or more"):
        seal(TieComponent((A, B), everyone))
    with pytest.raises(TooFewPeople, match="straddled"):
        seal(TieComponent((A, B), everyone[:4]))
    with pytest.raises(InvalidInput, match="one scope"):
        seal(TieComponent((A, Cell("g1", "b")), everyone[:6]))
    with pytest.raises(TooFewPeople, match="outside"):
        seal_tie(
            TieComponent((A, B), everyone[:6]),
            worn({f"p{i}": (A, B) for i in range(6)}),
            end_bucket=4,
            version=FREE,
            k=5,
        )
