"""The individual-level fit against dense matrices, a joint sampler, and the truth."""

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from tests.calibration.pools import simulate
from tests.referee.__main__ import Apart
from tests.referee.individual import NAMES, Layout, Wears, fit_individual, smoothed, solve
from tests.referee.individual import Criterion as Individual
from tests.referee.individual import Posterior as Draws


@pytest.fixture(scope="module")
def wears():
    pool = simulate(np.random.default_rng(5), n_people=14, n_cells=3)
    return Wears.of(pool.wears, range(3))


def dense(wears, layout, variances):
    """Covariance of the wears, the flat mean left out."""
    same_person = np.equal.outer(wears.person, wears.person)
    same_unit = same_person & np.equal.outer(wears.cell, wears.cell)
    n = layout.n_cells
    unit = np.repeat(np.arange(len(layout.unit_start)), np.diff(np.append(layout.unit_start, len(wears.person))))
    own, share = layout.columns[unit, 1 : n + 1], layout.columns[unit, n + 1 :]
    wear, person_cell, person, site, chose = variances
    covariance = wear * np.eye(len(unit)) + person_cell * same_unit + person * same_person
    return covariance + site * own @ own.T + chose * share @ share.T


def restricted(value, covariance):
    """Log density of what is left of the values once their mean is taken off: contrasts that sum to nothing."""
    n = len(value)
    contrasts = np.linalg.svd(np.ones((1, n)))[2][1:]
    return multivariate_normal.logpdf(contrasts @ value, np.zeros(n - 1), contrasts @ covariance @ contrasts.T)


def test_eliminating_people_is_the_dense_likelihood(wears):
    layout, rng = Layout.of(wears), np.random.default_rng(1)
    log_sds = np.log(0.05) + rng.normal(0, 0.7, (3, len(NAMES)))
    noise = 0.01 / wears.n_pairs
    found = solve(layout, wears.mean, noise, log_sds).log_likelihood
    expected = [
        restricted(wears.mean, dense(wears, layout, np.exp(2 * one)) + np.diag(noise)) for one in log_sds
    ]  # the constants of the two differ, the same at every node
    assert found - found[0] == pytest.approx(np.array(expected) - expected[0], abs=1e-9)


def test_coefficients_have_the_dense_mean(wears):
    layout = Layout.of(wears)
    log_sds = np.log([[0.03, 0.02, 0.04, 0.03, 0.02]])
    noise = 0.01 / wears.n_pairs
    solved = solve(layout, wears.mean, noise, log_sds)
    found = (solved.scale * solved.mean)[0]
    variances = np.exp(2 * log_sds[0])
    inverse = np.linalg.inv(dense(wears, layout, variances) + np.diag(noise))
    ones = np.ones(len(noise))
    mean = ones @ inverse @ wears.mean / (ones @ inverse @ ones)
    unit = np.repeat(np.arange(len(layout.unit_start)), np.diff(np.append(layout.unit_start, len(noise))))
    prior = np.repeat(variances[3:], layout.n_cells)
    effects = prior * (layout.columns[unit, 1:].T @ inverse @ (wears.mean - mean))
    assert found == pytest.approx([mean, *effects], abs=1e-12)


def test_a_smoothed_wear_lies_between_its_own_value_and_the_others(wears):
    layout = Layout.of(wears)
    noise = 0.01 / wears.n_pairs
    criterion = Individual(layout, wears.mean, noise, 0.05)
    sds = np.array([[0.03, 0.02, 0.04, 0.03, 0.02]])
    solved = solve(layout, wears.mean, noise, np.log(sds))
    found = smoothed(criterion, Draws(solved.scale * solved.mean, sds))
    covariance = dense(wears, layout, sds[0] ** 2)
    away = wears.mean - (solved.scale * solved.mean)[0, 0]
    best = wears.mean - noise * (np.linalg.inv(covariance + np.diag(noise)) @ away)
    assert found == pytest.approx(best, abs=1e-12)


def test_a_large_pool_finds_the_truth():
    pool = simulate(np.random.default_rng(8), n_people=300, n_cells=4, confounding=0.0)
    found = 100 * fit_individual(Wears.of(pool.wears, range(4)), np.random.default_rng(1)).mard
    apart = (np.median(found, axis=0) - 100 * pool.truth.mard()) / found.std(axis=0)
    assert np.abs(apart).max() < 3
    assert found.std(axis=0).max() < 0.5


def test_a_joint_sampler_agrees():
    """`python -m tests.referee --pools 20` does the same for twenty pools; its answer stands in docs/METHODS.md."""
    apart = Apart.of_pool(1, 0, steps=150)
    assert np.abs(apart.medians).max() < 0.35
    assert np.abs(apart.widths - 1).max() < 0.15
