"""Angles of what is known by hand, and that a bound is one."""

import numpy as np
import pytest

import pooling.audit.angles
from pooling.audit import AuditRow
from pooling.audit.angles import ISOLATED, basis, furthest_reaches, reach
from tests.pooling.audit.sums import FIRST, PEOPLE, block, random_rows, rest, system_of


def reaches(*rows, enough=0.95):
    return furthest_reaches(system_of(rows).with_unit_rows(), enough=enough)


def test_of_one_sum_it_is_the_share_of_the_squares():
    row = AuditRow("a", "block", FIRST.atoms, (3.0, 1.0, 1.0, 1.0, 1.0, 1.0))
    assert reaches(row) == pytest.approx([9 / 14] + [1 / 14] * 5)


def test_three_wears_of_one_person_count_as_three():
    """Merged atoms keep their squares."""
    row = AuditRow("a", "block", ("a/p00/0", "a/p00/1", "a/p00/2", "a/p01/0"))
    assert reaches(row) == pytest.approx([3 / 4, 1 / 4])


def test_of_a_version_without_somebody_it_is_one():
    found = reaches(FIRST, rest(FIRST, "p02"))
    assert found[2] >= ISOLATED
    assert found[[0, 1, 3, 4, 5]] == pytest.approx([1 / 5] * 5)


def test_a_basis_has_the_rank_of_the_rows():
    whole = block("w", PEOPLE[:12])
    parts = [AuditRow(str(n), "part", whole.atoms[6 * n : 6 * n + 6]) for n in range(2)]
    assert basis(system_of([whole, *parts]).matrix).shape == (12, 2)


@pytest.mark.parametrize("seed", range(20))
def test_bounds_where_rows_are_many_are_bounds(seed, monkeypatch):
    rows, person_of = random_rows(seed, weights=True)
    system = system_of(rows, person_of).with_unit_rows()
    exact = furthest_reaches(system, enough=0.5)
    monkeypatch.setattr(pooling.audit.angles, "_MOST_ROWS_AT_ONCE", 0)
    bound = furthest_reaches(system, enough=0.5)
    assert (bound > exact - 1e-9).all()
    large = bound >= 0.5
    assert bound[large] == pytest.approx(exact[large])


def test_reach_of_several_columns():
    q = np.linalg.qr(np.arange(12.0).reshape(6, 2) ** 1.5)[0]
    assert reach(q) == pytest.approx(1)
    assert reach(q[:1]) == pytest.approx((q[0] ** 2).sum())
