"""What the auditor passes, and that it agrees with exact arithmetic."""

import ast
from fractions import Fraction
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

import pooling.audit
from pooling.audit import AuditRow, audit
from pooling.errors import InvalidInput

K = 5


def block(name, people, *, wears=1):
    """One sum of fresh atoms: each person's own, for this sum only."""
    return AuditRow(name, "block", tuple(f"{name}/{person}/{wear}" for person in people for wear in range(wears)))


def owners(*rows):
    return {atom: atom.split("/")[1] for row in rows for atom in row.atoms}


def verdict_on(*rows, k=K):
    return audit(rows, owners(*rows), k=k)


def union(name, *rows, kind="bundle"):
    return AuditRow(name, kind, tuple(dict.fromkeys(atom for row in rows for atom in row.atoms)))


PEOPLE = [f"p{number:02d}" for number in range(24)]
FIRST, SECOND, THIRD = (block(name, PEOPLE[start : start + 6]) for name, start in (("a", 0), ("b", 6), ("c", 0)))


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


def rank(rows):
    """Rank in exact arithmetic."""
    rows = [list(row) for row in rows]
    found = 0
    for column in range(len(rows[0]) if rows else 0):
        pivot = next((place for place in range(found, len(rows)) if rows[place][column]), None)
        if pivot is None:
            continue
        rows[found], rows[pivot] = rows[pivot], rows[found]
        for place in range(found + 1, len(rows)):
            factor = rows[place][column] / rows[found][column]
            if factor:
                rows[place] = [a - factor * b for a, b in zip(rows[place], rows[found], strict=True)]
        found += 1
    return found


def isolated_sets(rows, person_of, size):
    """Sets of people alone in some combination: leaving out their columns loses rank."""
    atoms = sorted({atom for row in rows for atom in row.atoms})
    table = [[Fraction(row.terms().get(atom, 0)) for atom in atoms] for row in rows]
    everything = rank(table)
    people = sorted(set(person_of.values()))
    found = []
    for chosen in combinations(people, size):
        kept = [place for place, atom in enumerate(atoms) if person_of[atom] not in chosen]
        if rank([[row[place] for place in kept] for row in table]) < everything:
            found.append(chosen)
    return found


class TestExactArithmetic:
    """Sets of one and two people, one after another, in fractions: no tolerance and no bound."""

    @pytest.mark.parametrize("weights", [False, True], ids=["indicators", "coefficients"])
    def test_agrees_on_random_systems(self, weights):
        outcomes = set()
        for seed in range(120):
            rng = np.random.default_rng(seed)
            n_atoms, n_rows = int(rng.integers(9, 15)), int(rng.integers(2, 8))
            person_of = {f"w{atom}": f"p{rng.integers(0, 8)}" for atom in range(n_atoms)}
            rows = []
            for number in range(n_rows):
                held = tuple(f"w{atom}" for atom in np.flatnonzero(rng.random(n_atoms) < 0.75))
                # Sixteenths are exact in binary, so both sides see the same numbers.
                values = tuple((rng.integers(1, 9, len(held)) / 16).tolist()) if weights else None
                rows.append(AuditRow(str(number), "row", held, values))
            if not all(row.atoms for row in rows):
                continue
            used = {atom: person for atom, person in person_of.items() if any(atom in row.atoms for row in rows)}
            alone = isolated_sets(rows, used, 1)
            two = [pair for pair in isolated_sets(rows, used, 2) if not {(person,) for person in pair} & set(alone)]
            reasons = audit(rows, person_of, k=3).reasons
            assert ("sums can be combined so that one person is left" in reasons) == bool(alone)
            assert ("sums can be combined so that two people are left" in reasons) == bool(two)
            outcomes.add((bool(alone), bool(two)))
        assert len(outcomes) == 4


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
            tie = AuditRow("tie", "tie", FIRST.atoms[:5], tuple(scale * v for v in (0.5, 0.25, 0.125, 0.5, 0.25)))
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
    tree = ast.parse(Path(pooling.audit.__file__).read_text(encoding="utf-8"))
    imported = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    imported |= {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    assert {name for name in imported if name.startswith("pooling")} == {"pooling.errors"}
