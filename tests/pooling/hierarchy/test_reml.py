"""The individual-level referee against other software on raw readings, and at its edges."""

import warnings

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from statsmodels.tools.sm_exceptions import ConvergenceWarning

import pooling.hierarchy
from pooling.errors import InvalidInput
from pooling.hierarchy.reml import reml


def invented(seed, *, n_people=14, n_cells=3, sds=(0.05, 0.03, 0.04, 0.1), most_readings=9):
    """Raw readings as a table and the five columns of `reml`."""
    rng = np.random.default_rng(seed)
    person, cell = [], []
    for someone in range(n_people):
        for site in rng.choice(n_cells, rng.integers(1, n_cells + 1), replace=False):
            person += [someone] * (n_wears := int(rng.integers(1, 4)))
            cell += [int(site)] * n_wears
    person, cell = np.array(person), np.array(cell)
    n = rng.integers(1, most_readings + 1, person.size)
    wear = np.repeat(np.arange(n.size), n)
    effect = rng.normal(0, sds[0], n_people)[person] + rng.normal(0, sds[1], (n_people, n_cells))[person, cell]
    effect = effect + rng.normal(0, sds[2], n.size) + 0.03 * cell
    reading = effect[wear] + rng.normal(0, sds[3], wear.size)
    raw = pd.DataFrame({"y": reading, "wear": wear, "person": person[wear], "cell": cell[wear]})
    mean = np.bincount(wear, reading) / n
    return raw, (mean, n, np.bincount(wear, (reading - mean[wear]) ** 2), person, cell)


def other_software(raw, *, levels=("unit", "wear")):
    """statsmodels' MixedLM on the raw readings, with every level as a variance component within people."""
    formula = {level: f"0 + C({level})" for level in levels}
    table = raw.assign(unit=raw["cell"])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ConvergenceWarning)
        model = smf.mixedlm("y ~ 0 + C(cell)", table, groups="person", vc_formula=formula, re_formula="1")
        # Its gradient methods stop short of the optimum here, at worst by 60 in the criterion.
        return model.fit(reml=True, method="powell", maxiter=2000, ftol=1e-10)


class TestOtherSoftware:
    """statsmodels fits the same model on raw readings through whole matrices; common practice as a referee.

    Its standard errors come from a joint Hessian that also carries the variances, so they are no referee for ours: the
    dense likelihood and the published examples in test_individual are.
    """

    @pytest.mark.parametrize("seed", [4, 9])
    def test_statsmodels_on_raw_readings(self, seed):
        raw, columns = invented(seed)
        fit = reml(*columns)
        assert min(fit.sd_person, fit.sd_person_cell, fit.sd_wear) > 0
        other = other_software(raw)
        assert fit.criterion == pytest.approx(-2 * other.llf, abs=1e-3)
        unit, wear = np.sqrt(other.vcomp)
        ours = (fit.sd_person, fit.sd_person_cell, fit.sd_wear, fit.sd_residual)
        theirs = (np.sqrt(other.cov_re.iloc[0, 0]), unit, wear, np.sqrt(other.scale))
        assert ours == pytest.approx(theirs, rel=1e-3)
        assert fit.beta == pytest.approx(other.fe_params.to_numpy(), abs=1e-3 * fit.se.min())

    def test_a_component_of_zero(self):
        """Where one level is absent, the fit is that of the model without it."""
        raw, columns = invented(0, sds=(0.08, 0.0, 0.05, 0.1))
        fit = reml(*columns)
        assert fit.sd_person_cell == 0.0
        assert fit.identified
        other = other_software(raw, levels=("wear",))
        assert fit.criterion == pytest.approx(-2 * other.llf, abs=1e-3)
        assert fit.sd_wear == pytest.approx(np.sqrt(other.vcomp[0]), rel=1e-3)
        assert fit.sd_residual == pytest.approx(np.sqrt(other.scale), rel=1e-3)

    def test_one_way_analysis_of_variance(self):
        """Balanced, one cell, several wears a person: the closed forms of any textbook on variance components (Searle,
        Casella & McCulloch 1992, ch. 3 and 4, from memory). Nested a > c > e, a person having one unit."""
        rng = np.random.default_rng(2)
        people, wears, n = 10, 3, 4
        y = (
            rng.normal(0, 1, (people, 1, 1))
            + rng.normal(0, 0.8, (people, wears, 1))
            + rng.normal(0, 1, (people, wears, n))
        )
        means = y.mean(axis=2)
        within = ((y - means[..., None]) ** 2).sum(axis=2)
        person = np.repeat(np.arange(people), wears)
        fit = reml(means.ravel(), np.full(person.size, n), within.ravel(), person, np.zeros(person.size, int))
        ms_error = within.sum() / (people * wears * (n - 1))
        ms_wear = n * ((means - means.mean(axis=1, keepdims=True)) ** 2).sum() / (people * (wears - 1))
        ms_person = wears * n * means.mean(axis=1).var(ddof=1)
        assert ms_person > ms_wear > ms_error
        assert fit.sd_residual**2 == pytest.approx(ms_error, rel=1e-7)
        assert fit.sd_wear**2 == pytest.approx((ms_wear - ms_error) / n, rel=1e-6)
        person_and_unit = fit.sd_person**2 + fit.sd_person_cell**2
        assert person_and_unit == pytest.approx((ms_person - ms_wear) / (wears * n), rel=1e-6)
        assert not fit.identified
        assert fit.sd_person == pytest.approx(fit.sd_person_cell, rel=1e-9)
        assert fit.beta[0] == pytest.approx(y.mean(), abs=1e-12)
        assert fit.se[0] == pytest.approx(np.sqrt(ms_person / y.size), rel=1e-6)


class TestInvariance:
    def test_any_order_of_rows_gives_the_same_bytes(self):
        _, columns = invented(1)
        fit = reml(*columns)
        for seed in range(3):
            order = np.random.default_rng(seed).permutation(columns[0].size)
            again = reml(*(column[order] for column in columns))
            assert again.criterion == fit.criterion
            assert again.beta.tobytes() == fit.beta.tobytes()
            assert (again.sd_person, again.sd_person_cell) == (fit.sd_person, fit.sd_person_cell)

    def test_labels_are_only_labels(self):
        _, (mean, n, within, person, cell) = invented(1)
        fit = reml(mean, n, within, person, cell)
        names = np.random.default_rng(0).permutation(1000)[: person.max() + 1] - 500
        again = reml(mean, n, within, names[person], np.array([70, -3, 11])[cell])
        assert list(again.cells) == [-3, 11, 70]
        assert again.criterion == pytest.approx(fit.criterion, abs=1e-7)
        assert again.beta == pytest.approx(fit.beta[[1, 2, 0]], abs=1e-8)

    def test_units_carry_over(self):
        """Another unit and another zero: sds scale, the criterion moves by the log of the scale."""
        _, (mean, n, within, person, cell) = invented(4)
        fit, scaled = reml(mean, n, within, person, cell), reml(50 * mean + 900, n, 2500 * within, person, cell)
        assert scaled.sd_person == pytest.approx(50 * fit.sd_person, rel=1e-6)
        assert scaled.beta == pytest.approx(50 * fit.beta + 900, abs=1e-6)
        shift = 2 * (n.sum() - 3) * np.log(50)
        assert scaled.criterion == pytest.approx(fit.criterion + shift, abs=1e-6)

    def test_taking_out_and_putting_back_changes_nothing(self):
        _, columns = invented(1)
        without = reml(*(column[columns[3] != 5] for column in columns))
        assert without.n_people == reml(*columns).n_people - 1
        back = [np.concatenate([column[columns[3] != 5], column[columns[3] == 5]]) for column in columns]
        assert reml(*back).beta.tobytes() == reml(*columns).beta.tobytes()


EDGES = {
    "one wear a person": ([0.1, 0.2, -0.1, 0.0, 0.3], [5, 6, 7, 8, 9], [0.1] * 5, [1, 2, 3, 4, 5], [0, 0, 0, 1, 1]),
    "one person, three sites": ([0.1, 0.2, -0.1], [5, 6, 7], [0.1] * 3, [1, 1, 1], [0, 1, 2]),
    "a single wear": ([0.1], [5], [0.2], [1], [0]),
    "a single wear of two": ([0.1], [2], [0.2], [1], [0]),
    "one reading each": ([0.1, 0.2, -0.1, 0.3], [1] * 4, [0.0] * 4, [1, 1, 2, 2], [0, 1, 0, 1]),
    "few readings": ([0.1, 0.2, -0.1, 0.3], [1, 2, 1, 2], [0.0, 0.02, 0.0, 0.01], [1, 1, 2, 2], [0, 0, 0, 0]),
    "nobody at two sites": (
        [0.1, 0.2, -0.1, 0.3, 0.0, 0.1],
        [6] * 6,
        [0.1] * 6,
        [1, 1, 2, 2, 3, 3],
        [0, 0, 0, 0, 1, 1],
    ),
    "a stuck sensor": ([0.1, 0.2, -0.1, 0.3, 0.0], [6] * 5, [0.1, 0.2, 0.0, 0.1, 0.1], [1, 1, 2, 2, 3], [0] * 5),
    "no spread above noise": ([0.0] * 6, [9] * 6, [0.1] * 6, [1, 1, 2, 2, 3, 3], [0, 1, 0, 1, 0, 1]),
}


class TestEdges:
    @pytest.mark.parametrize("name", EDGES)
    def test_finite(self, name):
        fit = reml(*EDGES[name])
        figures = [fit.criterion, fit.sd_person, fit.sd_person_cell, fit.sd_wear, fit.sd_residual, *fit.beta, *fit.se]
        assert np.isfinite(figures).all()
        assert fit.sd_residual > 0
        assert (fit.se > 0).all()
        assert fit.identified == (not fit.remarks)

    @pytest.mark.parametrize(
        ("name", "remark"),
        [
            ("one wear a person", "Nobody has two wears in one cell"),
            ("one wear a person", "Nobody wore two cells"),
            ("one person, three sites", "All wears are one person's"),
            ("a single wear", "All wears are one person's"),
            ("one reading each", "Every wear has one reading"),
            ("nobody at two sites", "Nobody wore two cells"),
        ],
    )
    def test_what_cannot_be_told_is_said(self, name, remark):
        fit = reml(*EDGES[name])
        assert not fit.identified
        assert any(remark in line for line in fit.remarks)

    def test_shared_variance_is_split_equally_and_its_sum_is_right(self):
        """One wear a person and equal counts: the total is the variance of the means less their noise."""
        mean = np.array([0.1, 0.5, -0.4, 0.0, 0.3, -0.2])
        fit = reml(mean, [5] * 6, [0.04] * 6, [1, 2, 3, 4, 5, 6], [0] * 6)
        assert fit.sd_person == pytest.approx(fit.sd_person_cell, rel=1e-9)
        assert fit.sd_person == pytest.approx(fit.sd_wear, rel=1e-9)
        total = fit.sd_person**2 + fit.sd_person_cell**2 + fit.sd_wear**2
        assert total == pytest.approx(mean.var(ddof=1) - fit.sd_residual**2 / 5, rel=1e-6)
        assert fit.sd_residual**2 == pytest.approx(0.24 / 24, rel=1e-6)

    def test_what_the_data_say_nothing_about_is_zero(self):
        fit = reml(*EDGES["a single wear"])
        assert (fit.sd_person, fit.sd_person_cell, fit.sd_wear) == (0.0, 0.0, 0.0)
        assert fit.sd_residual**2 == pytest.approx(0.2 / 4)

    def test_zero_is_exact(self):
        fit = reml(*EDGES["no spread above noise"])
        assert (fit.sd_person, fit.sd_person_cell, fit.sd_wear) == (0.0, 0.0, 0.0)


class TestInput:
    @pytest.mark.parametrize(
        ("change", "message"),
        [
            ({"mean": [0.1, np.nan, 0.2]}, r"mean, row 1: must be a finite number"),
            ({"n_pairs": [4, 0, 4]}, r"n_pairs, row 1: must be a whole number"),
            ({"n_pairs": [4, 4, 2.5]}, r"n_pairs, row 2: must be a whole number"),
            ({"centred_ss": [0.1, -0.1, 0.1]}, r"centred_ss, row 1: must not be negative"),
            ({"n_pairs": [4, 1, 4]}, r"centred_ss, row 1: must be 0"),
            ({"person": [1.5, 2.0, 3.0]}, r"person must hold whole-number labels"),
            ({"cell": [0, 0]}, r"the same number in every column"),
            ({"centred_ss": [0.0, 0.0, 0.0]}, r"Every wear is constant"),
            ({"n_pairs": [1, 1, 1], "centred_ss": [0, 0, 0], "cell": [0, 1, 2]}, r"no more readings than cells"),
            ({"mean": [0.1] * 3, "n_pairs": [1] * 3, "centred_ss": [0] * 3}, r"do not vary within any cell"),
        ],
    )
    def test_refused_with_the_place(self, change, message):
        good = {
            "mean": [0.1, 0.2, 0.3],
            "n_pairs": [4, 4, 4],
            "centred_ss": [0.1] * 3,
            "person": [1, 2, 3],
            "cell": [0] * 3,
        }
        with pytest.raises(InvalidInput, match=message):
            reml(**(good | change))

    def test_no_rows(self):
        with pytest.raises(InvalidInput, match="One row a wear"):
            reml([], [], [], [], [])


def test_offered_by_the_package():
    assert pooling.hierarchy.reml is reml
