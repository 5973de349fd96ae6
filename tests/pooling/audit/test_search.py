"""The search where no proof was found, against exact arithmetic and where sets are too many."""

import numpy as np
import pytest

import pooling.audit.search
from pooling.audit import AuditRow
from pooling.audit.search import search, second_opinion
from tests.pooling.audit.sums import PEOPLE, block, fewest_left, random_rows, system_of, union


def searched(rows, person_of=None, *, k=5):
    return search(system_of(rows, person_of).with_unit_rows(), k, np.random.default_rng(1))


@pytest.mark.parametrize("seed", range(25))
def test_all_sets_of_a_small_system(seed):
    rows, person_of = random_rows(seed, weights=seed % 2 == 0, n_people=9)
    found = searched(rows, person_of)
    assert found.fewest_left == fewest_left(rows, person_of, 5)
    assert found.complete


@pytest.mark.parametrize("n_left", [3, 4])
def test_one_set_among_more_than_can_be_tried(n_left, monkeypatch):
    """Whole less its parts: a few among sixty people, who are found by the lightest combination."""
    monkeypatch.setattr(pooling.audit.search, "_N_SAMPLED_SETS", 0)
    people = [f"q{number:02d}" for number in range(60)]
    parts = [block(f"b{n}", people[6 * n : 6 * n + 6]) for n in range(9)]
    few = block("few", people[54 : 54 + n_left])
    found = searched([*parts, union("whole", *parts, few), union("other", *parts[:5])])
    assert not found.complete
    assert found.fewest_left == found.fewest_found == n_left
    assert found.n_targets > 0


def test_too_many_rows_are_not_searched(monkeypatch):
    monkeypatch.setattr(pooling.audit.search, "_MOST_ROWS", 1)
    found = searched([block("a", PEOPLE[:6]), block("b", PEOPLE[:6])])
    assert found.too_large
    assert not found.complete


@pytest.mark.parametrize("most", [200, 4])
@pytest.mark.parametrize("seed", range(4))
def test_a_second_opinion(most, seed, monkeypatch):
    """Of sums of five fresh people each, however few rows are looked at, the lightest combination has five or more."""
    monkeypatch.setattr(pooling.audit.search, "_MOST_ROWS_OF_AN_OPINION", most)
    rng, rows = np.random.default_rng(seed), []
    for number in range(12):
        fresh = block(f"n{number}", rng.choice(PEOPLE, 5, replace=False))
        rows.append(union(f"n{number}", fresh, *rows[-1:], kind="block"))
    found = second_opinion(system_of(rows).with_unit_rows(), 5, rng)
    assert found.fewest_left is None
    assert found.n_targets == 1
    assert found.fewest_found >= 5


def test_a_second_opinion_that_disagrees():
    """All of nine and six of them: every direction leads to the three that are left."""
    whole = AuditRow("w", "block", tuple(f"w/{person}/0" for person in PEOPLE[:9]))
    system = system_of([whole, AuditRow("v", "block", whole.atoms[3:])]).with_unit_rows()
    found = [second_opinion(system, 5, np.random.default_rng(seed)).fewest_left for seed in range(8)]
    assert set(found) == {3, None}
