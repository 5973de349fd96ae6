"""Rows as a system: what hangs together, what is merged, and what a digest depends on."""

from dataclasses import replace

import numpy as np
import pytest

from pooling.audit import AuditRow
from pooling.audit.rows import checked_terms, components
from tests.pooling.audit.sums import FIRST, PEOPLE, SECOND, THIRD, K, block, owners, rest, system_of, union


def split(*rows, person_of=None, k=K):
    terms = [checked_terms(number, row) for number, row in enumerate(rows)]
    return list(components(rows, terms, owners(*rows) if person_of is None else person_of, k=k))


def digests(*rows, **keywords):
    return {component.digest for component in split(*rows, **keywords)}


class TestComponents:
    def test_rows_with_common_atoms(self):
        found = split(FIRST, SECOND, THIRD, union("u", FIRST, THIRD))
        assert sorted(sorted(row.record for row in part.rows) for part in found) == [["a", "c", "u"], ["b"]]

    def test_a_row_of_nobody_is_by_itself(self):
        assert sorted(len(part.rows) for part in split(FIRST, AuditRow("empty", "block", ()))) == [1, 1]

    def test_the_same_people_do_not_connect(self):
        assert len(split(FIRST, THIRD)) == 2


class TestSystem:
    def test_atoms_that_move_together_are_one_column(self):
        whole = block("w", PEOPLE[:5], wears=4)
        system = system_of([whole, AuditRow("part", "part", whole.atoms[::2])])
        assert system.matrix.shape == (2, 10)
        assert system.matrix.toarray()[0] == pytest.approx(np.full(10, np.sqrt(2)))
        assert system.person.tolist() == [0, 0, 1, 1, 2, 2, 3, 3, 4, 4]

    def test_in_proportion_is_together(self):
        row = AuditRow("a", "tie", ("a/p00/0", "a/p00/1", "a/p01/0"), (3.0, -4.0, 2.0))
        assert system_of([row]).matrix.toarray() == pytest.approx(np.array([[5.0, 2.0]]))

    def test_unit_rows(self):
        system = system_of([AuditRow("a", "tie", ("x", "y"), (3e-9, 4e-9)), AuditRow("empty", "tie", ())], {})
        assert system.with_unit_rows().matrix.toarray() == pytest.approx(np.array([[0.6, 0.8], [0, 0]]))


class TestDigest:
    def test_order_and_pseudonyms_do_not_matter(self):
        rows = [FIRST, union("u", FIRST, SECOND), SECOND]
        links = owners(*rows)
        renamed = {atom: person[::-1] for atom, person in links.items()}
        turned = [replace(row, atoms=row.atoms[::-1]) for row in reversed(rows)]
        assert digests(*rows) == digests(*turned) == digests(*rows, person_of=renamed)

    @pytest.mark.parametrize(
        "change",
        [
            {"atoms": FIRST.atoms[1:]},
            {"coefficients": (1.0, 1.0, 1.0, 1.0, 1.0, 2.0)},
            {"k": 6},
            {"n_people": 6},
            {"n_seated": 6},
            {"kind": "tie"},
        ],
        ids=lambda change: next(iter(change)),
    )
    def test_what_is_tested_does(self, change):
        assert digests(FIRST) != digests(replace(FIRST, **change))

    def test_who_is_one_person_does(self):
        links = owners(FIRST)
        assert digests(FIRST) != digests(FIRST, person_of=links | {FIRST.atoms[0]: "p01"})
        assert digests(FIRST) != digests(FIRST, person_of={a: p for a, p in links.items() if p != "p00"})

    def test_k_does(self):
        assert digests(FIRST) != digests(FIRST, k=6)

    def test_another_set_does_not(self):
        assert digests(FIRST) < digests(FIRST, SECOND)
        assert not digests(FIRST) & digests(FIRST, rest(FIRST, "p00"))
