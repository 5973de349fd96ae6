"""What is proved is so, by trying all sets in exact arithmetic; and what a ledger makes is proved."""

import numpy as np
import pytest

from pooling.audit import AuditRow
from pooling.audit.proof import far_apart, prove
from tests.pooling.audit.faults import two_behind_blocks_who_are_in_a_tie
from tests.pooling.audit.sums import (
    FIRST,
    PEOPLE,
    SECOND,
    K,
    block,
    fewest_left,
    owners,
    random_rows,
    rest,
    system_of,
    union,
)


def left_by(rows, *, k=K):
    proof = prove(system_of(rows, k=k).with_unit_rows(), [row.kind for row in rows], k)
    return proof.core.n_rows


class TestOwnPeople:
    def test_blocks(self):
        assert left_by([FIRST, SECOND]) == 0

    def test_one_hides_behind_another(self):
        """The union has nobody of its own until the two are gone."""
        assert left_by([union("u", FIRST, SECOND, block("fresh", PEOPLE[:K])), FIRST, union("v", SECOND, FIRST)]) == 0

    def test_a_version_without_one_stays(self):
        assert left_by([FIRST, rest(FIRST, "p00"), SECOND]) > 0

    def test_what_proved_rows_differ_by_is_not_proved(self):
        """Set aside with the people of their own, three sums still have a combination that is empty on those."""
        rows = two_behind_blocks_who_are_in_a_tie()
        proof = prove(system_of(rows).with_unit_rows(), [row.kind for row in rows], K)
        assert proof.core.n_rows > 0
        assert proof.n_rows_proved > 0
        assert fewest_left(rows, owners(*rows), 3) == 2

    def test_wears_are_no_people(self):
        few = block("few", PEOPLE[:4], wears=4)
        assert left_by([few, union("u", few, SECOND)]) == 1


class TestSound:
    @pytest.mark.parametrize("weights", [False, True], ids=["indicators", "coefficients"])
    def test_nothing_is_proved_that_is_not_so(self, weights):
        """Where all rows are proved no set of fewer than k is left, tried one after another."""
        n_proved = 0
        for seed in range(150):
            rows, person_of = random_rows(seed, weights=weights, n_people=11)
            system = system_of(rows, person_of, k=4)
            if not prove(system.with_unit_rows(), ["row"] * len(rows), 4).core.n_rows:
                n_proved += 1
                assert fewest_left(rows, person_of, 4) is None, seed
        assert n_proved >= 5


class TestFarApart:
    def columns(self, *pairs, n_cells):
        found = np.zeros((n_cells, len(pairs)))
        for place, (a, b) in enumerate(pairs):
            found[a, place], found[b, place] = 1, -1
        return found, np.arange(len(pairs))

    @pytest.mark.parametrize(("n", "proved"), [(4, False), (5, True)])
    def test_linkers_of_two_cells(self, n, proved):
        assert far_apart(*self.columns(*[(0, 1)] * n, n_cells=2), K) is proved

    def test_a_cut_of_six_that_no_five_spanning_trees_fit_in(self):
        """Three links between neighbours of six in a ring: every cut has six, and five trees would need twenty-five."""
        pairs = [(n, (n + 1) % 6) for n in range(6) for _ in range(3)]
        assert far_apart(*self.columns(*pairs, n_cells=6), K)

    def test_people_in_several_rows_are_nobody_elses_company(self):
        """Three rows, each of two of three people: no two separate sets of people have all three rows."""
        columns = np.eye(3)[:, [0, 2, 0, 1, 1, 2]]
        assert far_apart(columns, np.array([0, 0, 1, 1, 2, 2]), 2)
        assert not far_apart(columns, np.array([0, 0, 1, 1, 2, 2]), 3)

    def test_a_difference_that_five_have(self):
        """Parts of one block: five have both, so the two go together, and then all eight have one direction."""
        both, early = np.array([[1, 1], [1, 0], [0, 1.0]]), np.array([[1], [1], [0.0]])
        columns = np.hstack([both] * 5 + [early] * 3)
        person = np.repeat(np.arange(8), [2] * 5 + [1] * 3)
        assert far_apart(columns, person, K)
        assert not far_apart(columns[:, 2:], person[2:], K)

    def test_a_cut_of_four(self):
        pairs = [(0, 1)] * 9 + [(1, 2)] * 4
        assert not far_apart(*self.columns(*pairs, n_cells=3), K)


class TestTies:
    """Laplacian sums over three cells beside their blocks; weights of people differ, or all are 1."""

    @staticmethod
    def rows(n_outside, *, even=False, two_cells=False, seed=0):
        rng = np.random.default_rng(seed)
        cells = ["x", "y"] if two_cells else ["x", "y", "z"]
        held = {f"p{n:02d}": cells for n in range(4)} | {f"p{n:02d}": cells[:2] for n in range(4, 9)}
        held |= {f"p{n:02d}": cells[-2:] for n in range(9, 14)}
        outside = {cell: [f"{cell}{n}" for n in range(n_outside)] for cell in cells}
        q1 = {(cell, who): 1.0 if even else rng.uniform(0.3, 0.9) for cell in cells for who in [*held, *outside[cell]]}
        blocks, ties = [], []
        for cell in cells:
            people = [*outside[cell], *(who for who, at in held.items() if cell in at)]
            atoms = tuple(f"{cell}/{who}/0" for who in people)
            blocks.append(AuditRow(cell, "block", atoms, tuple(q1[cell, who] for who in people)))
        weights = {who: {cell: 1.0 if even else rng.uniform(0.2, 0.7) for cell in at} for who, at in held.items()}
        for cell in cells:
            terms = {}
            for who, q2 in weights.items():
                for other in q2 if cell in q2 else ():
                    whole = sum(q2.values())
                    terms[f"{other}/{who}/0"] = (q2[cell] if cell == other else 0) - q2[cell] * q2[other] / whole
            ties.append(AuditRow("tie", "tie", tuple(terms), tuple(terms.values())))
        return [*blocks, *ties]

    @pytest.mark.parametrize("even", [False, True], ids=["uneven", "even"])
    @pytest.mark.parametrize("seed", range(3))
    def test_proved_with_five_outside(self, even, seed):
        assert left_by(self.rows(5, even=even, seed=seed)) == 0

    def test_with_two_outside_and_even_weights_those_are_left(self):
        """The difference of two cells less twice the tie of all who wore both."""
        rows = self.rows(2, even=True, two_cells=True)
        assert left_by(rows) > 0
        assert fewest_left(rows, owners(*rows), K) == 4

    def test_uneven_weights_hide_them_exactly(self):
        """So weights of 1 are what the rule of who stays outside has to be held to."""
        assert left_by(self.rows(2, two_cells=True)) == 0


class TestParts:
    """Two blocks in a bundle, cut by phase and by range: an atom for each place and cell of the cross."""

    @staticmethod
    def rows(straddle, seed=0):
        rng = np.random.default_rng(seed)
        blocks = {"x": PEOPLE[:7], "y": PEOPLE[7:13]}
        weight = {who: rng.uniform(0.3, 0.9) for who in PEOPLE}
        held = {}
        for number, who in enumerate([*blocks["x"], *blocks["y"]]):
            whole = [(phase, at) for phase in range(2) for at in range(3)]
            held[who] = whole if number % 2 == 0 and number // 2 < straddle else whole[:1]

        def row(name, kind, keep):
            atoms = tuple(
                f"{cell}/{who}/{phase}{at}"
                for cell, people in blocks.items()
                for who in people
                for phase, at in held[who]
                if keep(cell, phase, at)
            )
            return AuditRow(name, kind, atoms, tuple(weight[atom.split("/")[1]] for atom in atoms))

        rows = [row(cell, "block", lambda c, p, a, cell=cell: c == cell) for cell in blocks]
        rows += [row(f"phase {n}", "part", lambda c, p, a, n=n: p == n) for n in range(2)]
        return [*rows, *(row(f"range {n}", "part", lambda c, p, a, n=n: a == n) for n in range(3))]

    def test_proved_where_five_straddle_jointly(self):
        assert left_by(self.rows(5)) == 0

    def test_not_proved_where_four_do(self):
        rows = self.rows(4)
        assert left_by(rows) > 0
        assert fewest_left(rows, owners(*rows), K) == 4
