"""Lightest combinations, where the answer is known: cuts of a graph."""

import numpy as np
import pytest

from pooling.audit.trackers import Carriers, lightest, sparsest


def linkers(*pairs, n_cells):
    """One column a linker: plus in one cell, minus in the other."""
    found = []
    for a, b in pairs:
        column = np.zeros((n_cells, 1))
        column[a], column[b] = 0.5, -0.5
        found.append(column)
    return found


def difference(a, b, n_cells):
    return np.eye(n_cells)[a] - np.eye(n_cells)[b]


class TestCuts:
    """Amounts of linkers are differences of levels of cells, so the least weight is a least cut (Ford & Fulkerson,
    Canad
    J Math 1956;8:399-404, from memory)."""

    def test_two_cells(self):
        carriers = Carriers.of(linkers(*[(0, 1)] * 7, n_cells=2))
        assert lightest(carriers, difference(0, 1, 2)).weight == pytest.approx(7)

    def test_the_narrowest_place_of_a_chain(self):
        """Nine link the first two cells, four the second and third, six the third and last."""
        pairs = [(0, 1)] * 9 + [(1, 2)] * 4 + [(2, 3)] * 6
        carriers = Carriers.of(linkers(*pairs, n_cells=4))
        weights = [lightest(carriers, target, at_most_one=True).weight for target in carriers.directions()]
        assert min(weights) == pytest.approx(4)
        assert (
            min(len(carriers.people_in(sparsest(carriers, t, n_rounds=3).held())) for t in carriers.directions()) == 4
        )

    def test_a_ring_is_cut_twice(self):
        carriers = Carriers.of(linkers(*[(n, (n + 1) % 5) for n in range(5) for _ in range(3)], n_cells=5))
        assert lightest(carriers, difference(0, 1, 5), at_most_one=True).weight == pytest.approx(6)


def test_no_combination_that_is_largest_at_the_target():
    """Two levels that rise together: where the first is 1 the second is 2."""
    carriers = Carriers.of([np.array([[1.0]]), np.array([[1.0]])])
    assert lightest(carriers, np.array([0.5])).weight == pytest.approx(4)
    assert lightest(carriers, np.array([0.5]), at_most_one=True).weight == np.inf


def test_people_with_the_same_columns_stand_together():
    one = np.array([[2.0, 4.0], [2.0, 0.0]])
    same = np.array([[1.0, 3.0], [0.0, 3.0]])
    carriers = Carriers.of([one, same, np.array([[1.0], [0.0]])])
    assert sorted(carriers.members) == [(0, 1), (2,)]
    assert sorted(carriers.size) == [1, 2]
