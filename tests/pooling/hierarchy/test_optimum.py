"""Where the likelihood peaks and along which variances it is flat."""

import numpy as np
import pytest

from pooling.errors import NoConvergence
from pooling.hierarchy.individual import nested_model
from pooling.hierarchy.optimum import best_ratios, flat_directions

ALL = (True, True, True, False)


def layout(person, cell, n, *, seed=0, **options):
    """A model on pure noise in the given layout."""
    rng = np.random.default_rng(seed)
    person, cell, n = (np.asarray(a) for a in (person, cell, n))
    within = np.where(n > 1, rng.chisquare(np.maximum(n - 1, 1)), 0.0)
    value = rng.normal(0, 1 / np.sqrt(n)) + rng.normal(0, 0.7, person.size)
    return nested_model(value, 1 / n, person, cell, n_pairs=n, centred_ss=within, **options)


class TestBestRatios:
    @pytest.mark.parametrize("seed", range(3))
    def test_no_other_ratios_do_better(self, seed):
        """Against a coarse grid and against small moves away from the optimum, zeros included."""
        rng = np.random.default_rng(seed)
        person, cell, n = rng.integers(0, 9, 40), rng.integers(0, 3, 40), rng.integers(1, 30, 40)
        model = layout(person, cell, n, seed=seed, design=np.ones((3, 1)))
        free = (True, True, True, True)
        best = best_ratios(model, free)
        grid = [0, 0.02, 0.1, 0.4, 1.5]
        elsewhere = min(model.evaluate([a, b, c, g]).criterion for a in grid for b in grid for c in grid for g in grid)
        assert best.at.criterion <= elsewhere + 1e-9
        for move in rng.normal(0, 1e-3, (40, 4)):
            assert model.evaluate(np.maximum(best.ratios + move, 0)).criterion >= best.at.criterion - 1e-9

    @pytest.mark.parametrize("seed", range(6))
    def test_kuhn_tucker(self, seed):
        rng = np.random.default_rng(100 + seed)
        person, cell, n = rng.integers(0, 12, 60), rng.integers(0, 4, 60), rng.integers(1, 30, 60)
        best = best_ratios(layout(person, cell, n, seed=seed))
        slope = best.at.gradient[:3]
        inside = best.ratios[:3] > 0
        assert np.abs(slope[inside]).max(initial=0) < 1e-5
        assert slope[~inside].min(initial=0) >= -1e-5

    def test_components_not_free_stay_at_zero(self):
        model = layout([1, 1, 2, 2, 3, 3], [0, 0, 0, 0, 0, 0], [5, 6, 7, 8, 9, 9])
        assert list(best_ratios(model, (False, False, True, False)).ratios[[0, 1, 3]]) == [0.0, 0.0, 0.0]
        assert not best_ratios(model, (False,) * 4).ratios.any()

    def test_wears_that_repeat_one_another_exactly(self):
        """Two people, each with the same value over and over: between people everything, otherwise nothing."""
        one = np.ones(8)
        person = np.repeat([1, 2], 4)
        model = nested_model(1.0 * person, one, person, 0 * person, n_pairs=one, centred_ss=0 * one)
        with pytest.raises(NoConvergence, match="repeat one another"):
            best_ratios(model, (True, False, False, False))


LAYOUTS = {
    "several wears everywhere": ([1, 1, 1, 2, 2, 2, 3, 3], [0, 0, 1, 0, 1, 1, 0, 1], [3, 2, 4, 5, 2, 2, 3, 4]),
    "one wear a person": ([1, 2, 3, 4, 5], [0, 0, 0, 1, 1], [3, 4, 5, 6, 3]),
    "one wear a unit": ([1, 1, 2, 2, 3], [0, 1, 0, 1, 1], [3, 4, 5, 6, 3]),
    "one cell a person": ([1, 1, 2, 2, 3, 4], [0, 0, 0, 0, 1, 1], [3, 4, 5, 6, 3, 2]),
    "one reading a wear": ([1, 1, 1, 2, 2, 2, 3, 3], [0, 0, 1, 0, 1, 1, 0, 1], [1] * 8),
    "one person": ([1, 1, 1, 1], [0, 0, 1, 2], [3, 4, 5, 6]),
    "one person, a wear a cell": ([1, 1, 1], [0, 1, 2], [3, 4, 5]),
    "one person a cell": ([1, 1, 2, 2, 3], [0, 0, 1, 1, 2], [3, 4, 5, 6, 3]),
    "a single wear": ([1], [0], [9]),
    "one reading a wear, one wear a person": ([1, 2, 3, 4], [0, 0, 1, 1], [1] * 4),
}


class TestFlatDirections:
    """Dense check: the projected covariance matrices of the components are linearly dependent exactly there."""

    @pytest.mark.parametrize("name", LAYOUTS)
    def test_dimension_and_direction(self, name):
        person, cell, n = (np.array(a) for a in LAYOUTS[name])
        flat = flat_directions(layout(person, cell, n), ALL)
        wear = np.repeat(np.arange(n.size), n)
        x = np.eye(cell.max() + 1)[cell[wear]]
        away = np.eye(wear.size) - x @ np.linalg.pinv(x)
        same_person = person[wear][:, None] == person[wear]
        same_unit = same_person & (cell[wear][:, None] == cell[wear])
        levels = [same_person, same_unit, wear[:, None] == wear, np.eye(wear.size)]
        projected = np.array([(away @ level @ away).ravel() for level in levels])
        assert flat.shape[1] == 4 - np.linalg.matrix_rank(projected, tol=1e-9)
        assert flat[3].any() == 0
        assert np.abs(flat[[0, 1, 2, 4]].T @ projected).max(initial=0) < 1e-6
        assert flat.T @ flat == pytest.approx(np.eye(flat.shape[1]), abs=1e-12)

    def test_the_likelihood_does_not_change_along_them(self):
        model = layout(*LAYOUTS["one wear a person"])
        flat = flat_directions(model, ALL)
        variances = np.array([0.4, 0.3, 0.5, 0.0, 1.0])
        there = model.evaluate(variances[:4] / variances[4]).criterion
        moved = variances + 0.2 * flat[:, 0]
        assert model.evaluate(moved[:4] / moved[4]).criterion == pytest.approx(there, abs=1e-9)

    def test_known_noise_has_no_residual_direction(self):
        model = nested_model([1.0, 2.0, 4.0], [1.0, 2.0, 3.0], [1, 2, 3], [0, 0, 0])
        assert flat_directions(model, (True, False, False, False)).shape == (5, 0)
        assert flat_directions(model, (True, False, True, False)).shape == (5, 1)
