"""The red team's own algebra, against trying everything and against published examples."""

from fractions import Fraction
from itertools import combinations

import numpy as np
import pytest

from tests.pooling.ledger.test_ties import rank
from tests.redteam.algebra import PRIME, Told, echelon, fewest_carriers, intervals, total


def random_sums(seed):
    rng = np.random.default_rng(seed)
    atoms = [f"a{n}" for n in range(int(rng.integers(4, 10)))]
    owner = {atom: f"p{rng.integers(5)}" for atom in atoms}
    values = [Fraction(1), Fraction(1), Fraction(-1, 3), Fraction(2)]
    sums = [
        {atom: values[rng.integers(4)] for atom in atoms if rng.random() < 0.5} for _ in range(int(rng.integers(1, 6)))
    ]
    return [held for held in sums if held], owner


def by_trying(sums, owner, most):
    atoms = sorted(owner)
    table = [[held.get(atom, Fraction(0)) for atom in atoms] for held in sums]
    # Both ranks are exact modulo a prime; this one is another elimination, with another prime.
    other = 2**61 - 1
    table = [[value.numerator * pow(value.denominator, -1, other) % other for value in row] for row in table]
    found = []
    for size in range(1, most + 1):
        for group in combinations(sorted(set(owner.values())), size):
            kept = [place for place, atom in enumerate(atoms) if owner[atom] not in group]
            if rank([[row[place] for place in kept] for row in table]) < rank(table):
                found.append(group)
    return found


@pytest.mark.parametrize("seed", range(60))
def test_isolated_sets_are_those_of_trying_all(seed):
    sums, owner = random_sums(seed)
    every = by_trying(sums, owner, 3)
    least = [group for group in every if not any(set(other) < set(group) for other in every)]
    assert Told(sums, owner).isolated(3) == sorted(least)


def test_a_difference_of_one_is_told_and_a_part_of_it_is_not():
    sums = [total("abcd"), total("abc"), total("xy")]
    told = Told(sums, {atom: atom for atom in "abcdxy"})
    assert told.isolated(1) == [("d",)]
    assert told.tells(total("d"))
    assert told.tells(total("dxy"))
    assert not told.tells(total("a"))
    assert not told.tells(total("x"))
    assert not told.tells(total("abx"))
    assert not told.tells(total("z"))


def test_the_wears_of_one_person_are_told_together_or_not_at_all():
    told = Told([total(["a1", "a2", "b"]), total("b")], {"a1": "a", "a2": "a", "b": "b"})
    assert told.tells(total(["a1", "a2"]))
    assert not told.tells(total(["a1"]))
    assert told.isolated(2) == [("a",), ("b",)]


def test_reduced_rows_stand_for_the_same_sums():
    rows, leads = echelon(np.array([[2, 4, 1], [1, 2, 5], [3, 6, 6]]))
    assert leads == [0, 2]
    assert rows.tolist() == [[1, 2, 0], [0, 0, 1]]
    assert echelon(np.array([[PRIME, 0]]))[1] == []


def test_a_tracker_finds_the_one_who_is_in_neither_half():
    people = [f"p{n}" for n in range(12)]
    sums = [total([*people, "victim"]), total(people[:6]), total(people[6:])]
    owner = {name: name for name in [*people, "victim"]}
    assert fewest_carriers(sums, owner, ["victim"]) == [1]
    assert fewest_carriers(sums[1:], owner, ["p0", "p7", "victim"]) == [6, 6]


def test_intervals_of_the_handbooks_table_of_three_by_two():
    """Rows 7, 3, 6 and columns 9, 7, the last row's cells shown: the hidden ones lie in [3, 6] [1, 4] [0, 3] [0, 3].

    Handbook on Statistical Disclosure Control, 2nd ed., ch. 4.2.
    """
    hidden = np.eye(4, dtype=np.int64)
    parts = np.array([[1, 1, 0, 0], [0, 0, 1, 1], [1, 0, 1, 0], [0, 1, 0, 1]])
    totals = np.array([7.0, 3.0, 6.0, 4.0])
    assert intervals(parts, totals, totals, hidden) == pytest.approx([3, 3, 3, 3])
    assert intervals(parts[:1], totals[:1], totals[:1], hidden[2:3]).tolist() == [np.inf]
    assert intervals(parts, totals - 2, totals + 2, hidden[:1]) == pytest.approx([8])
