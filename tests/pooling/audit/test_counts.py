"""Whom a sum speaks of, how two differ, and whether a sum says its number of people rightly."""

from dataclasses import replace

import numpy as np
import pytest

from pooling.audit import AuditRow, audit
from pooling.audit.counts import miscounted, n_concentrated, thin_differences, thin_rows
from pooling.audit.rows import Component, checked_terms
from tests.pooling.audit.sums import FIRST, PEOPLE, SECOND, K, block, owners, rest, system_of, union


def component(*rows, person_of=None):
    terms = tuple(checked_terms(number, row) for number, row in enumerate(rows))
    return Component(tuple(rows), terms, owners(*rows) if person_of is None else person_of, K)


class TestThin:
    def test_rows_of_too_few_and_of_nobody(self):
        rows = [FIRST, block("few", PEOPLE[:4], wears=3), AuditRow("empty", "block", ())]
        assert thin_rows(system_of(rows), K) == [1, 2]

    def test_differences(self):
        """Against one another: without one, without five, without none, with one more."""
        one = block("a", PEOPLE[:10])
        rows = [one, rest(one, "p00"), rest(one, *PEOPLE[:5]), replace(one, record="again"), union("b", one, SECOND)]
        pairs = set(thin_differences(system_of(rows), K, among=np.arange(5)))
        assert pairs == {(0, 1), (1, 2), (1, 3)}

    def test_only_among_the_rows_asked_for(self):
        one = block("a", PEOPLE[:10])
        system = system_of([one, rest(one, "p00"), rest(one, "p01")])
        assert thin_differences(system, K, among=np.array([0, 2])) == [(0, 2)]

    def test_a_weight_that_changes_is_a_person_who_differs(self):
        weights = (0.5, 0.25, 0.125, 0.75, 0.375, 0.625)
        one = AuditRow("a", "tie", FIRST.atoms, weights)
        other = AuditRow("b", "tie", FIRST.atoms, (0.625, *weights[1:]))
        assert thin_differences(system_of([one, other]), K, among=np.arange(2)) == [(0, 1)]

    def test_the_last_digit_of_a_weight_is_no_person(self):
        one = AuditRow("a", "tie", FIRST.atoms, (0.1 + 0.2,) * 6)
        other = AuditRow("b", "tie", FIRST.atoms, (0.3,) * 6)
        assert thin_differences(system_of([one, other]), K, among=np.arange(2)) == []


class TestMiscounted:
    @pytest.mark.parametrize(
        ("n_people", "n_seated", "wrong"),
        [(6, None, []), (6, 6, []), (None, 6, []), (5, None, [0]), (7, 7, [0]), (6, 7, [0]), (None, None, [])],
    )
    def test_against_its_atoms(self, n_people, n_seated, wrong):
        assert miscounted(component(replace(FIRST, n_people=n_people, n_seated=n_seated))) == wrong

    def test_wears_are_no_people(self):
        assert miscounted(component(replace(block("a", PEOPLE[:5], wears=2), n_people=10))) == [0]

    @pytest.mark.parametrize(("n_people", "wrong"), [(4, [0]), (5, []), (6, []), (7, [0])])
    def test_two_places_of_whoever_left_are_one_person_or_two(self, n_people, wrong):
        links = {atom: person for atom, person in owners(FIRST).items() if person not in ("p00", "p01")}
        assert miscounted(component(replace(FIRST, n_people=n_people), person_of=links)) == wrong

    def test_it_is_a_reason(self):
        verdict = audit([replace(FIRST, n_people=9)], owners(FIRST), k=K)
        assert verdict.reasons == ("1 sum (block) says another number of people than were given a place",)


class TestConcentrated:
    def test_two_who_are_nearly_all(self):
        row = AuditRow("a", "block", FIRST.atoms, (1.0, 1.0, 0.05, 0.05, 0.05, 0.05))
        assert n_concentrated(component(row)) == 1
        assert n_concentrated(component(replace(row, coefficients=(1.0, 1.0, 0.1, 0.05, 0.05, 0.05)))) == 0

    def test_differences_are_no_contributions(self):
        row = AuditRow("a", "tie", FIRST.atoms, (1.0, -1.0, 0.05, -0.05, 0.05, -0.05))
        assert n_concentrated(component(row)) == 0
