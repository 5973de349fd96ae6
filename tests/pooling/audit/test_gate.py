"""What the auditor passes, and that it agrees with exact arithmetic."""

import ast

import numpy as np
import pytest

import pooling.audit
from pooling.audit import AuditRow, audit
from pooling.errors import InvalidInput
from tests.house.tree import ROOT
from tests.pooling.audit.sums import (
    FIRST,
    PEOPLE,
    SECOND,
    THIRD,
    K,
    block,
    fewest_left,
    owners,
    random_rows,
    union,
    verdict_on,
)


class TestCleanHistories:
    def test_nothing_sealed(self):
        assert audit([], {}, k=K) == pooling.audit.Verdict(True, (), 0, 0, 0, 0, 0)

    def test_blocks_of_fresh_wears(self):
        """The same people again, with other wears: other atoms."""
        verdict = verdict_on(FIRST, SECOND, THIRD)
        assert verdict.passed
        assert verdict.reasons == ()
        assert (verdict.n_rows, verdict.n_atoms, verdict.n_people_tested, verdict.n_components) == (3, 18, 12, 3)

    def test_bundles_of_whole_blocks(self):
        assert verdict_on(FIRST, SECOND, THIRD, union("all", FIRST, SECOND), union("both", SECOND, THIRD)).passed

    def test_the_same_sum_in_two_editions(self):
        again = AuditRow("later", "block", FIRST.atoms)
        assert verdict_on(FIRST, again, SECOND).passed

    def test_a_part_that_everybody_straddles(self):
        """Two atoms a person in the block, one of them in the part."""
        whole = block("whole", PEOPLE[:6], wears=2)
        part = AuditRow("part", "part", whole.atoms[::2])
        assert verdict_on(whole, part).passed

    @pytest.mark.parametrize("seed", range(3))
    def test_histories_by_the_rule_of_freshness(self, seed):
        """Every block holds k people whose atoms no earlier row holds; anything may be added to them."""
        rng = np.random.default_rng(seed)
        rows = []
        for number in range(25):
            fresh = block(f"n{number}", rng.choice(PEOPLE, K, replace=False))
            old = [row for row in rows if rng.random() < 0.15]
            rows.append(union(f"n{number}", fresh, *old, kind="block"))
        assert verdict_on(*rows).passed

    def test_ties_of_the_same_people(self):
        """Laplacian sums over cells, with real coefficients, that leave k people of each cell outside."""
        one, two = block("one", PEOPLE[:14]), block("two", PEOPLE[:18])
        linkers = PEOPLE[:8]
        pull = np.random.default_rng(1).uniform(0.2, 0.5, len(linkers))
        atoms = tuple(f"{cell}/{person}/0" for cell in ("one", "two") for person in linkers)
        tie = AuditRow("tie", "tie", atoms, (*pull, *-pull))
        assert verdict_on(one, two, tie).passed


LEFT = {
    1: "sums can be combined so that one person is left",
    2: "sums can be combined so that two people are left",
    3: "sums can be combined so that three people are left",
    4: "sums can be combined so that four people are left",
}


class TestExactArithmetic:
    """Sets of one to four people, one after another, in whole numbers: no tolerance, no proof and no bound."""

    @pytest.mark.parametrize("weights", [False, True], ids=["indicators", "coefficients"])
    @pytest.mark.parametrize(("k", "n_people", "n_seeds"), [(3, 8, 80), (5, 10, 30)])
    def test_agrees_on_random_systems(self, weights, k, n_people, n_seeds):
        outcomes = set()
        for seed in range(n_seeds):
            rows, person_of = random_rows(seed, weights=weights, n_people=n_people)
            expected = fewest_left(rows, person_of, k)
            said = [
                reason for reason in audit(rows, person_of, k=k).reasons if "left" in reason and "more" not in reason
            ]
            assert said == [LEFT[expected]] if expected else said == []
            outcomes.add(expected)
        assert len(outcomes) >= 3


class TestInvariance:
    def test_order_and_names_do_not_matter(self):
        everyone = union("everyone", FIRST, SECOND, block("none", ["p20"]))
        rows = [everyone, FIRST, SECOND, AuditRow("a", "block", FIRST.atoms[1:]), THIRD]
        expected = verdict_on(*rows)
        assert verdict_on(*reversed(rows)) == expected
        links = {atom: person[::-1] for atom, person in owners(*rows).items()}
        assert audit(rows, links, k=K) == expected

    def test_scale_does_not_matter(self):
        """A sum in other units is the same sum, and so is what it gives away."""
        for scale in (1.0, 1e-12, 1e12):
            tie = AuditRow("tie", "tie", FIRST.atoms, tuple(scale * v for v in (0.5, 0.25, 0.125, 0.75, 0.375, 0.625)))
            assert verdict_on(FIRST, tie).passed
            scaled = AuditRow("version", "block", FIRST.atoms[1:], (scale,) * 5)
            assert "sums can be combined so that one person is left" in verdict_on(FIRST, scaled).reasons

    def test_an_atom_with_coefficient_zero_is_not_there(self):
        four = AuditRow("a", "block", FIRST.atoms[:5], (1.0, 1.0, 1.0, 1.0, 0.0))
        verdict = verdict_on(four)
        assert verdict.reasons == ("1 sum (block) speaks of fewer than 5 people",)
        assert verdict.n_atoms == 4


class TestInput:
    @pytest.mark.parametrize(
        ("row", "message"),
        [
            (AuditRow("a", "block", ("x", "x", "y")), "row 0: an atom stands in it twice"),
            (AuditRow("a", "block", ("x", "y"), (1.0,)), "row 0: 2 atoms, but 1 coefficients"),
            (AuditRow("a", "block", ("x", "y"), (1.0, float("nan"))), "row 0: a coefficient is not finite"),
        ],
    )
    def test_refused(self, row, message):
        with pytest.raises(InvalidInput, match=message):
            audit([row], {}, k=K)

    def test_k_of_one(self):
        with pytest.raises(InvalidInput, match="at least 2"):
            audit([FIRST], {}, k=1)


def test_it_shares_no_code_with_what_it_checks():
    imported = set()
    for path in (ROOT / "pooling" / "audit").glob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        imported |= {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
        imported |= {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    ours = {name for name in imported if name.startswith("pooling") and not name.startswith("pooling.audit")}
    assert ours == {"pooling.errors"}
