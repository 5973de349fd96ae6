"""The engine against published worked examples, a dense likelihood and its own differences."""

import csv
from pathlib import Path

import numpy as np
import pytest
from scipy import linalg

from pooling.errors import InvalidInput
from pooling.hierarchy.individual import nested_model
from pooling.hierarchy.optimum import best_ratios

PUBLISHED = Path(__file__).parents[3] / "fixtures" / "published"


def published(name):
    with (PUBLISHED / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def se(optimum):
    return np.sqrt(optimum.at.covariance.diagonal())


def single_readings(value, person, cell, design):
    """Every observation is a wear of one reading, as in data with crossed or plain random intercepts."""
    value = np.asarray(value, dtype=float)
    one = np.ones(value.size)
    return nested_model(value, one, person, cell, n_pairs=one, centred_ss=0 * one, design=design)


class TestPublishedExamples:
    def test_sleepstudy_random_intercept(self):
        """Data: Belenky et al., J Sleep Res 2003;12:1-12. Figures: lme4 and statsmodels, which agree, on
        Reaction ~ Days + (1|Subject); a model of Bates et al., J Stat Softw 2015;67(1)."""
        rows = published("sleepstudy.csv")
        days = np.array([int(row["days"]) for row in rows])
        subject = np.array([int(row["subject"]) for row in rows])
        design = np.column_stack([np.ones(10), np.arange(10)])
        model = single_readings([float(row["reaction"]) for row in rows], subject, days, design)
        optimum = best_ratios(model, (True, False, False, False))
        assert optimum.at.criterion == pytest.approx(1786.465, abs=5e-4)
        assert np.sqrt(optimum.ratios[0] * optimum.at.scale) == pytest.approx(37.124, abs=5e-4)
        assert np.sqrt(optimum.at.scale) == pytest.approx(30.991, abs=5e-4)
        assert optimum.at.beta == pytest.approx([251.40510, 10.46729], abs=6e-6)
        assert se(optimum) == pytest.approx([9.7467, 0.80422], abs=5e-5)

    def test_penicillin_crossed(self):
        """Data: Davies & Goldsmith, Statistical Methods in Research and Production (1972), 24 plates by 6 samples.
        Figures: lme4 and statsmodels, which agree, on diameter ~ 1 + (1|plate) + (1|sample); printed to fewer digits
        in Bates et al., J Stat Softw 2015;67(1)."""
        rows = published("penicillin.csv")
        plate = np.array([ord(row["plate"]) for row in rows])
        sample = np.array([ord(row["sample"]) for row in rows])
        model = single_readings([float(row["diameter"]) for row in rows], plate, sample, np.ones((6, 1)))
        optimum = best_ratios(model, (True, False, False, True))
        variances = optimum.ratios * optimum.at.scale
        assert optimum.at.criterion == pytest.approx(330.8606, abs=5e-5)
        assert variances == pytest.approx([0.7169, 0, 0, 3.7309], abs=5e-5)
        assert np.sqrt(variances[[0, 3]]) == pytest.approx([0.8467, 1.9316], abs=6e-5)
        assert optimum.at.scale == pytest.approx(0.3024, abs=5e-5)
        assert (optimum.at.beta[0], se(optimum)[0]) == pytest.approx((22.9722, 0.8086), abs=5e-5)
        sample_effects = optimum.at.cell_mean - optimum.at.beta[0]
        assert sample_effects == pytest.approx([2.1871, -1.0105, 1.9379, -0.0969, -0.0138, -3.0037], abs=1e-4)

    def test_dyestuff(self):
        """Davies & Goldsmith 1972, yields of 5 preparations from 6 batches. The single yields are from memory; their
        batch means are the published ones, checked first. Figures: lme4 on Yield ~ 1 + (1|Batch)."""
        yields = np.array(
            [
                [1545, 1440, 1440, 1520, 1580],
                [1540, 1555, 1490, 1560, 1495],
                [1595, 1550, 1605, 1510, 1560],
                [1445, 1440, 1595, 1465, 1545],
                [1595, 1630, 1515, 1635, 1625],
                [1520, 1455, 1450, 1480, 1445],
            ],
            dtype=float,
        )
        means = yields.mean(axis=1)
        assert list(means) == [1505, 1528, 1564, 1498, 1600, 1470]
        within = ((yields - means[:, None]) ** 2).sum(axis=1)
        five, batch = np.full(6, 5), np.arange(6)
        model = nested_model(means, 1 / five, batch, 0 * batch, n_pairs=five, centred_ss=within)
        optimum = best_ratios(model, (True, False, False, False))
        assert optimum.at.criterion == pytest.approx(319.654, abs=5e-4)
        assert optimum.ratios[0] * optimum.at.scale == pytest.approx(1764.05, abs=5e-3)
        assert optimum.at.scale == pytest.approx(2451.25, abs=5e-3)
        assert (optimum.at.beta[0], se(optimum)[0]) == pytest.approx((1527.5, 19.384), abs=1e-3)


class TestEightSchools:
    """Rubin, J Educ Stat 1981;6:377-401; Gelman et al., Bayesian Data Analysis, sec. 5.5. The posterior moments under
    flat priors were found by exact integration over a grid of the between-school sd up to 60."""

    @pytest.fixture
    def model(self):
        rows = published("eight_schools.csv")
        effect, sigma = (np.array([float(row[name]) for row in rows]) for name in ("effect", "sigma"))
        return nested_model(effect, sigma**2, np.arange(8), np.zeros(8, dtype=int))

    def test_no_spread_between_schools_is_exactly_zero(self, model):
        optimum = best_ratios(model, (True, False, False, False))
        assert optimum.ratios[0] == 0.0
        assert optimum.at.beta[0] == pytest.approx(7.685617, abs=5e-7)
        assert se(optimum)[0] == pytest.approx(4.071919, abs=5e-7)

    def test_posterior_under_flat_priors(self, model):
        tau = (np.arange(1500) + 0.5) * 0.04
        grid = [model.evaluate([t**2, 0, 0, 0]) for t in tau]
        weight = np.exp(-0.5 * np.array([at.criterion for at in grid]))
        weight /= weight.sum()
        mu = np.array([at.beta[0] for at in grid])
        theta = np.array([at.unit_mean for at in grid])
        assert weight @ mu == pytest.approx(7.932, abs=5e-4)
        assert np.sqrt(weight @ (mu**2 + [at.covariance[0, 0] for at in grid]) - (weight @ mu) ** 2) == pytest.approx(
            5.17, abs=5e-3
        )
        assert weight @ tau == pytest.approx(6.57, abs=5e-3)
        quartiles = np.interp([0.025, 0.25, 0.5, 0.75, 0.975], np.cumsum(weight), tau + 0.02)
        assert quartiles == pytest.approx([0.24, 2.47, 5.24, 9.12, 20.7], abs=0.05)
        mean = weight @ theta
        assert mean == pytest.approx([11.40, 7.89, 6.13, 7.64, 5.13, 6.14, 10.67, 8.46], abs=6e-3)
        spread = np.sqrt(weight @ (theta**2 + [at.unit_variance for at in grid]) - mean**2)
        assert spread == pytest.approx([8.34, 6.27, 7.76, 6.55, 6.36, 6.71, 6.78, 7.89], abs=6e-3)


def dense(value, noise, person, cell, ratios, design, *, readings=None):
    """The same restricted likelihood from whole matrices; `readings` (values, wear of each) for the raw-data form."""
    if readings is not None:
        raw, wear = readings
        wear_level = np.eye(len(value))[wear]
        residual = np.eye(len(raw))
    else:
        raw, wear = value, np.arange(len(value))
        wear_level, residual = np.eye(len(value)), np.diag(noise)
    same_person = person[wear][:, None] == person[wear][None, :]
    same_cell = cell[wear][:, None] == cell[wear][None, :]
    v = ratios[0] * same_person + ratios[1] * (same_person & same_cell)
    v = v + ratios[2] * wear_level @ wear_level.T + ratios[3] * same_cell + residual
    x = design[np.unique(cell, return_inverse=True)[1]][wear]
    inverse = np.linalg.inv(v)
    information = x.T @ inverse @ x
    beta = np.linalg.solve(information, x.T @ inverse @ raw)
    rest = raw - x @ beta
    quad, df = rest @ inverse @ rest, len(raw) - x.shape[1]
    scale = 1.0 if readings is None else quad / df
    log_det = np.linalg.slogdet(v)[1] + np.linalg.slogdet(information)[1]
    return log_det + df * np.log(2 * np.pi * scale) + quad / scale, beta, scale * np.linalg.inv(information)


def invented(rng, n_people=12, n_cells=3, most_readings=6):
    """Raw readings of a small invented pool, with the wear of each, and person and cell of each wear."""
    person, cell = [], []
    for someone in range(n_people):
        for site in rng.choice(n_cells, rng.integers(1, n_cells + 1), replace=False):
            n_wears = int(rng.integers(1, 3))
            person += [someone] * n_wears
            cell += [int(site)] * n_wears
    person, cell = np.array(person), np.array(cell)
    n = rng.integers(1, most_readings + 1, person.size)
    wear = np.repeat(np.arange(person.size), n)
    units = rng.normal(0, 0.3, (n_people, n_cells))
    effect = rng.normal(0, 0.5, n_people)[person] + units[person, cell] + rng.normal(0, 0.4, person.size)
    raw = 0.2 * cell[wear] + effect[wear] + rng.normal(0, 1, wear.size)
    mean = np.bincount(wear, raw) / n
    return raw, wear, mean, n, np.bincount(wear, (raw - mean[wear]) ** 2), person, cell


RATIOS = [(0.3, 0.1, 0.2, 0.0), (0.0, 0.2, 0.0, 0.0), (2.0, 0.0, 0.5, 0.7), (0.4, 0.3, 0.2, 0.1), (0.0, 0.0, 0.0, 0.0)]


class TestDenseLikelihood:
    @pytest.mark.parametrize("ratios", RATIOS)
    @pytest.mark.parametrize("seed", range(3))
    def test_raw_readings(self, ratios, seed):
        raw, wear, mean, n, within, person, cell = invented(np.random.default_rng(seed))
        assert mean.size <= 60
        model = nested_model(mean, 1 / n, person, cell, n_pairs=n, centred_ss=within)
        at = model.evaluate(ratios)
        criterion, beta, covariance = dense(mean, None, person, cell, ratios, np.eye(3), readings=(raw, wear))
        assert at.criterion == pytest.approx(criterion, rel=0, abs=1e-9)
        assert at.beta == pytest.approx(beta, rel=0, abs=1e-9)
        assert at.covariance == pytest.approx(covariance, rel=0, abs=1e-9)

    @pytest.mark.parametrize("ratios", RATIOS)
    def test_known_variances_and_a_design(self, ratios):
        rng = np.random.default_rng(8)
        _, _, mean, _, _, person, cell = invented(rng, n_cells=4)
        noise = rng.uniform(0.2, 3, mean.size)
        design = np.column_stack([np.ones(4), np.arange(4.0)])
        at = nested_model(mean, noise, person, cell, design=design).evaluate(ratios)
        criterion, beta, covariance = dense(mean, noise, person, cell, ratios, design)
        assert at.criterion == pytest.approx(criterion, rel=0, abs=1e-9)
        assert at.beta == pytest.approx(beta, rel=0, abs=1e-9)
        assert at.covariance == pytest.approx(covariance, rel=0, abs=1e-9)

    def test_predictions_of_units(self):
        """Means and variances of cell + person + person-by-cell, by conditioning one dense normal vector."""
        rng = np.random.default_rng(9)
        _, _, mean, _, _, person, cell = invented(rng, n_people=6)
        noise = rng.uniform(0.2, 3, mean.size)
        a, b, c, g = 0.4, 0.3, 0.2, 0.6
        at = nested_model(mean, noise, person, cell, design=np.ones((3, 1))).evaluate([a, b, c, g])
        same_person, same_cell = person[:, None] == person, cell[:, None] == cell
        wide = 1e8  # a flat prior on the mean, as near as floats allow
        signal = wide + a * same_person + b * (same_person & same_cell) + g * same_cell
        gain = linalg.solve(signal + np.diag(c + noise), signal, assume_a="pos").T
        unit = np.unique(np.stack([person, cell]), axis=1, return_index=True)[1]
        assert at.unit_mean == pytest.approx((gain @ mean)[unit], abs=1e-5)
        assert at.unit_variance == pytest.approx((signal - gain @ signal).diagonal()[unit], abs=1e-5)


class TestGradient:
    @pytest.mark.parametrize("known", [True, False])
    @pytest.mark.parametrize("ratios", [(0.3, 0.1, 0.2, 0.4), (2.0, 0.6, 0.5, 0.02), (0.01, 0.02, 0.03, 1.5)])
    def test_central_differences(self, ratios, known):
        _, _, mean, n, within, person, cell = invented(np.random.default_rng(3))
        raw = {} if known else {"n_pairs": n, "centred_ss": within}
        model = nested_model(mean, 1 / n, person, cell, design=np.ones((3, 1)), **raw)
        ratios = np.array(ratios)
        for component, step in enumerate(np.diag(1e-4 * ratios)):
            above, below = model.evaluate(ratios + step).criterion, model.evaluate(ratios - step).criterion
            difference = (above - below) / (2 * step.sum())
            assert model.evaluate(ratios).gradient[component] == pytest.approx(difference, rel=1e-5, abs=1e-7)

    def test_it_holds_at_zero(self):
        """One-sided, because a variance cannot be negative."""
        _, _, mean, n, within, person, cell = invented(np.random.default_rng(4))
        model = nested_model(mean, 1 / n, person, cell, n_pairs=n, centred_ss=within)
        at = model.evaluate([0, 0, 0, 0])
        for component, step in enumerate(1e-5 * np.eye(4)):
            values = [model.evaluate(m * step).criterion for m in (0, 1, 2)]
            forward = (-3 * values[0] + 4 * values[1] - values[2]) / 2e-5
            assert at.gradient[component] == pytest.approx(forward, rel=1e-5, abs=1e-4)


class TestInput:
    def test_design_of_the_wrong_height(self):
        with pytest.raises(InvalidInput, match="one row for each of the 2 cells"):
            nested_model([1.0, 2.0], [1, 1], [1, 2], [1, 2], design=np.ones((3, 1)))

    def test_design_that_repeats_itself(self):
        with pytest.raises(InvalidInput, match="repeat one another"):
            nested_model([1.0, 2.0], [1, 1], [1, 2], [1, 2], design=np.ones((2, 2)))
