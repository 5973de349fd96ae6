"""Intervals of counts: Handbook on Statistical Disclosure Control, 2nd ed., ch. 4.2, 5.5, 5.7; and all there are."""

from itertools import product

import numpy as np
import pytest

from pooling.audit import AuditRow, audit
from pooling.audit.intervals import feasible, pinned
from pooling.errors import InvalidInput

# Three rows, two columns; the cells row by row.
MARGINS = [[1, 1, 0, 0, 0, 0], [0, 0, 1, 1, 0, 0], [0, 0, 0, 0, 1, 1], [1, 0, 1, 0, 1, 0], [0, 1, 0, 1, 0, 1]]
TOTALS = [7, 3, 6, 9, 7]
THIRD_ROW = [[0, 0, 0, 0, 1, 0], [0, 0, 0, 0, 0, 1]]


def shown(cell, n=6):
    return np.eye(1, n, cell)[0].tolist()


class TestHandbook:
    """Rows of 7, 3 and 6, columns of 9 and 7; the cells of the first two rows are not shown."""

    def test_the_intervals_of_four_hidden_cells(self):
        published = [*TOTALS, 3, 3]
        found = feasible([*MARGINS, *THIRD_ROW], published, published)
        assert list(zip(found.lower[:4], found.upper[:4], strict=True)) == [(3, 6), (1, 4), (0, 3), (0, 3)]

    @pytest.mark.parametrize("own", [1, 2, 4])
    def test_whoever_is_alone_in_a_hidden_cell_sees_the_others(self, own):
        """The only contributor of the second cell knows it, and with it the first."""
        published = [*TOTALS, 3, 3, own]
        found = feasible([*MARGINS, *THIRD_ROW, shown(1)], published, published)
        assert (found.lower[0], found.upper[0]) == (7 - own, 7 - own)


class TestTheTableOfTwo:
    """Sweeney's example of a table with k = 2 (IJUFKS 2002;10(5):557-570, its cells from memory): five classes of two
    or
    three people who look alike, and in two of these all have the same complaint."""

    CLASSES = (
        ("short breath", "chest pain"),
        ("hypertension", "hypertension"),
        ("obesity", "chest pain"),
        ("chest pain", "obesity", "short breath"),
        ("chest pain", "chest pain"),
    )

    def test_k_is_two(self):
        rows = [
            AuditRow(str(number), "class", tuple(f"{number}.{person}" for person in range(len(complaints))))
            for number, complaints in enumerate(self.CLASSES)
        ]
        assert audit(rows, {}, k=2).passed
        assert "4 sums (class) speak of fewer than 3 people" in audit(rows, {}, k=3).reasons

    def test_l_is_one(self):
        """Where all have what is counted, as many as there are, nobody is known to be without it."""
        without = []
        for complaints in self.CLASSES:
            published = [len(complaints), complaints.count(complaints[0])]
            without.append(feasible([[1, 1], [1, 0]], published, published).upper[1])
            assert not pinned([[1, 1], [1, 0]], published, published, people=[1], k=2).passed or without[-1] > 1
        assert without == [1, 0, 1, 2, 0]


def brute(matrix, low, high, most):
    """Smallest and largest of every count, by trying all whole numbers."""
    matrix = np.array(matrix)
    found = np.array(list(product(range(most + 1), repeat=matrix.shape[1])))
    sums = found @ matrix.T
    kept = found[((sums >= low) & (sums <= high)).all(axis=1)]
    return kept.min(axis=0), kept.max(axis=0)


class TestFeasible:
    @pytest.mark.parametrize("seed", range(12))
    def test_all_whole_numbers_lie_inside(self, seed):
        """Bands of random sums of four counts; the ends are reached where the sums are those of a two-way table."""
        rng = np.random.default_rng(seed)
        matrix = np.array([[1, 1, 0, 0], [0, 0, 1, 1], [1, 0, 1, 0], [0, 1, 0, 1]])
        sums = matrix @ rng.integers(0, 7, 4)
        low, high = np.maximum(sums - rng.integers(0, 3, 4), 0), sums + rng.integers(0, 3, 4)
        found = feasible(matrix, low, high)
        lower, upper = brute(matrix, low, high, 16)
        assert found.lower.tolist() == lower.tolist()
        assert found.upper.tolist() == upper.tolist()

    def test_people_are_between_the_largest_part_and_the_sum(self):
        """A region of 12 people with two sites, of which one is shown with 9: the other has 3 to 12."""
        matrix = [[1, 0, 0], [0, 1, 0], [1, -1, 0], [1, 0, -1], [-1, 1, 1]]
        inf = np.inf
        found = feasible(matrix, [12, 9, 0, 0, 0], [12, 9, inf, inf, inf])
        assert (found.lower[2], found.upper[2]) == (3, 12)

    def test_nothing_bounds_what_is_in_nothing(self):
        found = feasible([[1, 0]], [4], [4])
        assert found.upper.tolist() == [4, np.inf]

    @pytest.mark.parametrize(
        ("low", "high", "message"), [([1], [1], "2 published numbers, but ends of 1"), ([5, 1], [5, 1], "No counts")]
    )
    def test_refused(self, low, high, message):
        with pytest.raises(InvalidInput, match=message):
            feasible([[1, 0], [1, 0]], low, high)


class TestPinned:
    def test_wears_within_five(self):
        """A total less what is shown leaves two counts a sum of 4, or of 5."""
        for left, n_narrow in ((4, 2), (5, 0)):
            known = pinned([[1, 1, 1], [1, 0, 0]], [20 + left, 20], [20 + left, 20], wears=[1, 2])
            assert (known.n_tested, known.n_narrow, known.narrowest_wears) == (2, n_narrow, left)
            assert known.passed is (n_narrow == 0)
            assert bool(known.reasons()) is (n_narrow > 0)

    @pytest.mark.parametrize(
        ("low", "high", "told"), [(0, 0, True), (0, 1, True), (1, 1, True), (4, 4, True), (0, 2, False), (5, 5, False)]
    )
    def test_people(self, low, high, told):
        assert pinned([[1]], [low], [high], people=[0], k=5).passed is not told

    def test_bands_keep_a_hidden_child_wide(self):
        """Counts to base 5: a parent of 40, a child of 30."""
        assert pinned([[1, 1], [1, 0]], [36, 26], [44, 34], wears=[1]).narrowest_wears == 16
