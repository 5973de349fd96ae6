"""The closed conditional against the same law written out with matrices."""

import numpy as np
import pytest

from pooling.own.conditional import Reading, person_at

CELLS = ("a", "b", "c", "d")


def dense(at, readings, person, unit, wear):
    """Textbook conditional of a joint normal vector: every effect by itself, joined by a design matrix."""
    effects = np.diag([person, *(unit[cell] for cell in CELLS)])
    design = np.array([[1.0, *(float(reading.cell == cell) for cell in CELLS)] for reading in readings])
    target = np.array([1.0, *(float(at == cell) for cell in CELLS)])
    noise = np.diag([wear + reading.noise for reading in readings])
    covariance = design @ effects @ design.T + noise
    gain = target @ effects @ design.T @ np.linalg.inv(covariance)
    mean = gain @ [reading.deviation for reading in readings]
    return mean, target @ effects @ target - gain @ design @ effects @ target


@pytest.mark.parametrize("seed", range(12))
def test_it_is_the_dense_conditional(seed):
    rng = np.random.default_rng(seed)
    person, wear = rng.gamma(1.0, 1.0, 2)
    unit = dict(zip(CELLS, rng.gamma(1.0, 1.0, 4), strict=True))
    readings = [
        Reading(str(rng.choice(CELLS[:3])), rng.normal(), rng.gamma(1.0, 0.3)) for _ in range(int(rng.integers(1, 9)))
    ]
    for at in CELLS:  # nobody wore anything at d
        found = person_at(at, readings, person_variance=person, unit_variance=unit, wear_variance=wear)
        mean, variance = dense(at, readings, person, unit, wear)
        assert found.mean == pytest.approx(mean, abs=1e-12)
        assert found.variance == pytest.approx(variance, abs=1e-12)


def test_without_wears_it_is_the_law_itself():
    found = person_at("a", [], person_variance=2.0, unit_variance={"a": 0.5}, wear_variance=1.0)
    assert (found.mean, found.variance) == (0.0, 2.5)


def test_one_wear_shrinks_as_a_one_way_table_does():
    """Classical shrinkage of one mean: person variance over total variance (any text on random effects)."""
    found = person_at("b", [Reading("a", 3.0, 0.5)], person_variance=1, unit_variance={"a": 0, "b": 0}, wear_variance=1)
    assert found.mean == pytest.approx(3.0 / 2.5)
    assert found.variance == pytest.approx(1 - 1 / 2.5)
