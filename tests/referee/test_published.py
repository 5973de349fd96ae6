"""`reml`, and the model of the sums where a cell is a study, against analyses that others have printed."""

import csv
from pathlib import Path

import numpy as np
import pytest

from pooling.hierarchy import FitRules, reml
from pooling.hierarchy.channel import _draw_levels
from pooling.hierarchy.criterion import Criterion
from pooling.hierarchy.individual import nested_model
from pooling.hierarchy.integration import integrate
from pooling.hierarchy.optimum import best_ratios
from pooling.hierarchy.pool import ChannelPool, Counts

PUBLISHED = Path(__file__).parents[2] / "fixtures" / "published"


def rows_of(name):
    with (PUBLISHED / name).open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def reml_of_readings(reading, person, cell):
    """Every wear is all that one person has at one cell."""
    unit, inverse = np.unique(person * 1000 + cell, return_inverse=True)
    n = np.bincount(inverse)
    mean = np.bincount(inverse, reading) / n
    squares = np.bincount(inverse, (reading - mean[inverse]) ** 2)
    return reml(mean, n, squares, unit // 1000, unit % 1000)


class TestMachines:
    """lme4 (and nlme) on score ~ 0 + machine + (1|worker) + (1|worker:machine), raw readings; Pinheiro and Bates,
    Mixed-Effects Models in S and S-PLUS (2000), sec. 1.3, print both; digits from memory, which the fit bears out."""

    @pytest.fixture
    def table(self):
        rows = rows_of("machines.csv")
        score, worker = (np.array([float(row[name]) for row in rows]) for name in ("score", "worker"))
        machine = np.array(["ABC".index(row["machine"]) for row in rows])
        assert [score[machine == m].mean() for m in range(3)] == pytest.approx([52.3556, 60.3222, 66.2722], abs=5e-5)
        return score, worker.astype(int), machine

    def test_balanced(self, table):
        fit = reml_of_readings(*table)
        assert fit.criterion == pytest.approx(215.6876, abs=1e-3)
        assert fit.sd_person == pytest.approx(4.78105, rel=1e-4)
        assert np.hypot(fit.sd_person_cell, fit.sd_wear) == pytest.approx(3.72953, rel=1e-4)
        assert fit.sd_residual == pytest.approx(0.96158, rel=1e-4)

    def test_unbalanced(self, table):
        """The same book leaves out ten of the rows."""
        kept = np.delete(np.arange(54), np.array([2, 3, 6, 8, 9, 12, 19, 20, 27, 33]) - 1)
        fit = reml_of_readings(*(column[kept] for column in table))
        assert fit.sd_person == pytest.approx(4.7387, rel=1e-4)
        assert np.hypot(fit.sd_person_cell, fit.sd_wear) == pytest.approx(3.7728, rel=1e-4)
        assert fit.sd_residual == pytest.approx(0.9332, rel=1e-4)


def test_a_variance_of_zero():
    """Box and Tiao, Bayesian Inference in Statistical Analysis (1973), made-up batches; lme4 on y ~ 1 + (1|batch):
    criterion 161.8283, residual sd 3.7157, no spread of batches. Data and digits from memory."""
    values = np.array(
        [
            [7.298, 3.846, 2.434, 9.566, 7.990],
            [5.220, 6.556, 0.608, 11.788, -0.892],
            [0.110, 10.386, 13.434, 5.510, 8.166],
            [2.212, 4.852, 7.092, 9.288, 4.980],
            [0.282, 9.014, 4.458, 9.446, 7.198],
            [1.722, 4.782, 8.106, 0.758, 3.758],
        ]
    )
    batch = np.repeat(np.arange(6), 5)
    fit = reml_of_readings(values.ravel(), batch, 0 * batch)
    assert fit.criterion == pytest.approx(161.8283, abs=1e-3)
    assert (fit.sd_person, fit.sd_person_cell, fit.sd_wear) == (0.0, 0.0, 0.0)
    assert fit.sd_residual == pytest.approx(3.7157, rel=1e-4)
    assert fit.beta[0] == pytest.approx(5.6656, abs=5e-5)


def studies(effect, variance):
    """Studies as the data of one channel: a cell each, known noise, no people and no ties."""
    n = len(effect)
    cells = tuple((f"study{index:02d}", None) for index in range(n))
    nothing = np.zeros((n, n))
    return ChannelPool(
        counts=Counts(cells, (10,) * n, (10,) * n, (10,) * n, (80,) * n, np.zeros((n, n), dtype=np.int64)),
        y=effect,
        level=np.ones(n),
        to_rows=np.eye(n),
        errors=dict.fromkeys(("person", "person_cell", "wear"), nothing),
        fixed=np.diag(variance),
        effects={"site": np.eye(n)},
        designs={"site": np.eye(n)},
        squares=(),
        components=(),
        scale=1.0,
    )


def posterior_of(effect, variance, scale):
    """Draws of the sd between studies and of every study's own effect, as the production fit makes them."""
    rules, rng = FitRules(draws=4000, wanted_effective=4000, most_batches=40), np.random.default_rng(2)
    criterion = Criterion.of(studies(effect, variance), scale=scale, who_chose=0.0)
    nodes = integrate(criterion, rules, rng)
    return np.exp(nodes.draws[:, criterion.names.index("site")]), _draw_levels(criterion, nodes, rng)[0]


def by_grid(effect, variance, scale, upper):
    """Mean and sd of every study's effect under a half-t prior with 4 degrees of freedom, summed over a fine grid."""
    taus = (np.arange(4000) + 0.5) * upper / 4000
    weights, means, seconds = [], [], []
    for tau in taus:
        precision = 1 / (variance + tau**2)
        centre, spread = (precision @ effect) / precision.sum(), 1 / precision.sum()
        density = 0.5 * np.log(precision).sum() - 0.5 * np.log(precision.sum())
        density -= 0.5 * (precision @ (effect - centre) ** 2) + 2.5 * np.log1p((tau / scale) ** 2 / 4)
        pull = variance / (variance + tau**2)
        mean = pull * centre + (1 - pull) * effect
        weights.append(density)
        means.append(mean)
        seconds.append(pull * tau**2 + pull**2 * spread + mean**2)
    weight = np.exp(np.array(weights) - max(weights))
    weight /= weight.sum()
    mean = weight @ np.array(means)
    return mean, np.sqrt(weight @ np.array(seconds) - mean**2)


class TestEightSchools:
    """Rubin, J Educ Stat 1981;6:377-401; Gelman et al., Bayesian Data Analysis, sec. 5.5."""

    @pytest.fixture
    def schools(self):
        rows = rows_of("eight_schools.csv")
        return tuple(np.array([float(row[name]) for row in rows]) for name in ("effect", "sigma"))

    def test_a_prior_so_wide_that_it_is_flat(self, schools):
        """Means and sds of the book's analysis under a flat prior of the sd, exact (tests of the nested model)."""
        effect, sigma = schools
        _, levels = posterior_of(effect, sigma**2, 300.0)
        published = [11.40, 7.89, 6.13, 7.64, 5.13, 6.14, 10.67, 8.46]
        assert levels.mean(axis=0) == pytest.approx(published, abs=0.5)
        assert levels.std(axis=0) == pytest.approx([8.34, 6.27, 7.76, 6.55, 6.36, 6.71, 6.78, 7.89], rel=0.08)

    def test_the_prior_that_is_used(self, schools):
        effect, sigma = schools
        _, levels = posterior_of(effect, sigma**2, 5.0)
        mean, sd = by_grid(effect, sigma**2, 5.0, 60.0)
        assert levels.mean(axis=0) == pytest.approx(mean, abs=0.3)
        assert levels.std(axis=0) == pytest.approx(sd, rel=0.06)


class TestVaccine:
    """Log risk ratios of 13 trials. Viechtbauer, J Stat Softw 2010;36(3), prints the REML fit: variance 0.3132,
    mean -0.7145, standard error 0.1798 (digits from memory)."""

    @pytest.fixture
    def trials(self):
        names = ("vaccinated_ill", "vaccinated_well", "control_ill", "control_well")
        a, b, c, d = np.array([[float(row[name]) for name in names] for row in rows_of("bcg.csv")]).T
        return np.log(a / (a + b) / (c / (c + d))), 1 / a - 1 / (a + b) + 1 / c - 1 / (c + d)

    def test_restricted_likelihood(self, trials):
        effect, variance = trials
        model = nested_model(effect, variance, np.arange(13), np.zeros(13, dtype=int))
        optimum = best_ratios(model, (True, False, False, False))
        assert optimum.ratios[0] == pytest.approx(0.3132, abs=5e-5)
        assert optimum.at.beta[0] == pytest.approx(-0.7145, abs=5e-5)
        assert np.sqrt(optimum.at.covariance[0, 0]) == pytest.approx(0.1798, abs=5e-5)

    @pytest.mark.parametrize("scale", [0.5, 20.0])
    def test_the_model_of_the_sums(self, trials, scale):
        effect, variance = trials
        _, levels = posterior_of(effect, variance, scale)
        mean, sd = by_grid(effect, variance, scale, 4.0)
        assert levels.mean(axis=0) == pytest.approx(mean, abs=0.03)
        assert levels.std(axis=0) == pytest.approx(sd, rel=0.06)
