import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from statsmodels.regression.mixed_linear_model import MixedLM

from pooling.comparison import bland_altman, deming, passing_bablok, repeat_sd
from pooling.errors import InvalidInput


@pytest.fixture(scope="module")
def peak_flow(published):
    """Bland & Altman, Lancet 1986;i:307-310: peak expiratory flow, l/min, 17 people."""
    rows = published("pefr_1986")
    return {name: np.array([float(row[name]) for row in rows]) for name in ("wright1", "wright2", "mini1", "mini2")}


@pytest.fixture(scope="module")
def creatinine(published):
    rows = published("creatinine_108")
    return tuple(np.array([float(row[name]) for row in rows]) for name in ("x", "y"))


# ---- limits of agreement ---------------------------------------------------------------------------------------------


def test_peak_flow_as_printed_in_1986(peak_flow):
    # Printed figures (from memory; recomputed): -2.1, 38.8, limits -79.7 and 75.5 from rounded inputs, standard errors
    # 9.4 and 16.3.
    found = bland_altman(peak_flow["wright1"], peak_flow["mini1"], multiplier=2)
    assert found.bias == pytest.approx(-2.1, abs=0.05)
    assert found.sd == pytest.approx(38.8, abs=0.05)
    assert (found.lower, found.upper) == pytest.approx((-79.7, 75.5), abs=0.1)
    t = stats.t.ppf(0.975, 16)
    assert (found.bias_ci[1] - found.bias) / t == pytest.approx(9.4, abs=0.05)
    assert (found.lower_ci[1] - found.lower) / t == pytest.approx(16.3, abs=0.05)


def test_peak_flow_to_more_places(peak_flow):
    found = bland_altman(peak_flow["wright1"], peak_flow["mini1"], multiplier=2)
    assert found.bias == pytest.approx(-2.117647, abs=5e-7)
    assert found.sd == pytest.approx(38.765130, abs=5e-7)
    assert (found.lower, found.upper) == pytest.approx((-79.648, 75.413), abs=5e-4)
    assert found.bias_ci == pytest.approx((-22.049, 17.814), abs=5e-4)
    assert found.lower_ci == pytest.approx((-114.17, -45.13), abs=5e-3)
    assert found.upper_ci == pytest.approx((40.89, 109.93), abs=5e-3)
    usual = bland_altman(peak_flow["wright1"], peak_flow["mini1"])
    assert (usual.lower, usual.upper) == pytest.approx((-78.097, 73.862), abs=5e-4)


def test_repeated_pairs_follow_the_analysis_of_variance(peak_flow):
    # Bland & Altman, J Biopharm Stat 2007;17:571-582, true value varying: mean square between and within people, here
    # of two differences each, so m0 = 2. Mean squares taken from scipy's one-way analysis, not from our code.
    first, second = (peak_flow["wright1"] - peak_flow["mini1"]), (peak_flow["wright2"] - peak_flow["mini2"])
    both = np.column_stack([first, second])
    within = both.var(axis=1, ddof=1).mean()
    f = stats.f_oneway(*both).statistic
    sd = np.sqrt((f * within - within) / 2 + within)
    person = np.tile(np.arange(17), 2)
    found = bland_altman(
        np.concatenate([peak_flow["wright1"], peak_flow["wright2"]]),
        np.concatenate([peak_flow["mini1"], peak_flow["mini2"]]),
        person=person,
    )
    assert found.bias == pytest.approx(both.mean(), rel=1e-12)
    assert found.sd == pytest.approx(sd, rel=1e-12)
    assert found.upper - found.lower == pytest.approx(2 * 1.96 * sd, rel=1e-12)


def test_peak_flow_repeated_bias_is_the_one_of_the_means_of_two(peak_flow):
    # Bland & Altman 1999 (Stat Methods Med Res 8:135-160) use the means of two readings of the same people: -6.029.
    found = bland_altman(
        np.concatenate([peak_flow["wright1"], peak_flow["wright2"]]),
        np.concatenate([peak_flow["mini1"], peak_flow["mini2"]]),
        person=[*range(17), *range(17)],
    )
    assert found.bias == pytest.approx(-6.029, abs=5e-4)


def test_repeated_limits_are_those_of_a_mixed_model(peak_flow):
    # Two pairs a person, so analysis of variance and restricted maximum likelihood agree; the model is fitted by a
    # general statistics library.
    first, second = (peak_flow["wright1"] - peak_flow["mini1"]), (peak_flow["wright2"] - peak_flow["mini2"])
    difference, person = np.concatenate([first, second]), np.tile(np.arange(17), 2)
    fit = MixedLM(difference, np.ones(34), groups=person).fit(reml=True)
    found = bland_altman(difference, np.zeros(34), person=person)
    assert found.sd == pytest.approx(np.sqrt(fit.cov_re[0, 0] + fit.scale), rel=1e-4)


def test_repeatability_of_peak_flow(peak_flow):
    # Bland & Altman 1986: sd within people 15.3 (Wright) and 19.9 l/min (mini), coefficients of repeatability 43.2 and
    # 56.4 (printed figures from memory; recomputed 43.29 and 56.32).
    wright = repeat_sd(peak_flow["wright1"], peak_flow["wright2"])
    mini = repeat_sd(peak_flow["mini1"], peak_flow["mini2"])
    assert (wright, mini) == pytest.approx((15.307, 19.911), abs=5e-4)
    assert (2 * np.sqrt(2) * wright, 2 * np.sqrt(2) * mini) == pytest.approx((43.2, 56.4), abs=0.11)
    # And the sd of one difference, put together from means of two: 33.2, corrected 37.7.
    means = (peak_flow["wright1"] + peak_flow["wright2"] - peak_flow["mini1"] - peak_flow["mini2"]) / 2
    assert means.std(ddof=1) == pytest.approx(33.2, abs=0.05)
    assert np.sqrt(means.var(ddof=1) + wright**2 / 2 + mini**2 / 2) == pytest.approx(37.7, abs=0.05)


def test_repeatability_needs_repeats():
    with pytest.raises(InvalidInput, match="at least 2"):
        repeat_sd([1.0], [2.0])


def test_jackknife_of_a_balanced_mean_is_its_textbook_error():
    # With equal numbers a person, leaving out one person at a time gives sd(person means) / sqrt(n_people) exactly.
    rng = np.random.default_rng(5)
    values = rng.normal(0, 1, (12, 1)) + rng.normal(0, 0.5, (12, 4))
    found = bland_altman(values.ravel(), np.zeros(48), person=np.repeat(np.arange(12), 4))
    half = stats.t.ppf(0.975, 11) * values.mean(axis=1).std(ddof=1) / np.sqrt(12)
    assert found.bias_ci == pytest.approx((values.mean() - half, values.mean() + half), rel=1e-12)


def test_repeated_intervals_cover_the_truth():
    # True sd of one difference: sqrt(6^2 + 8^2) = 10, so the upper limit lies at 19.6.
    rng = np.random.default_rng(11)
    n_covered, n_pools = 0, 200
    for _ in range(n_pools):
        counts = rng.integers(2, 9, 25)
        person = np.repeat(np.arange(25), counts)
        a = rng.normal(0, 6, 25)[person] + rng.normal(0, 8, person.size)
        low, high = bland_altman(a, np.zeros_like(a), person=person).upper_ci
        n_covered += low <= 19.6 <= high
    # 99 % Monte-Carlo interval of 95 % at 200 pools is about .91 to .99; the jackknife may lose two points.
    assert 0.89 <= n_covered / n_pools <= 0.99


def test_no_variance_goes_below_zero():
    # Opposite differences within each person: between people there is less than nothing.
    found = bland_altman([1.0, -1.0] * 4, np.zeros(8), person=np.repeat(np.arange(4), 2))
    assert found.sd == pytest.approx(np.sqrt(2))


@given(st.lists(st.tuples(st.integers(20, 600), st.integers(20, 600)), min_size=2, max_size=20))
def test_turning_the_question_round_turns_the_answer_round(pairs):
    a, b = np.array(pairs, dtype=float).T
    one, other = bland_altman(a, b), bland_altman(b, a)
    assert (one.bias, one.lower, one.upper) == pytest.approx((-other.bias, -other.upper, -other.lower), abs=1e-9)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ({"a": [1.0], "b": [2.0]}, "at least 2"),
        ({"a": [1.0, 2], "b": [2.0]}, "same length"),
        ({"a": [1.0, np.nan], "b": [2.0, 3]}, "finite"),
        ({"a": [1.0, 2], "b": [2.0, 3], "multiplier": 0}, "multiplier"),
        ({"a": [1.0, 2], "b": [2.0, 3], "person": [1]}, "one person label"),
        ({"a": [1.0, 2, 3, 4], "b": [1.0, 2, 3, 4], "person": [1, 1, 2, 2]}, "3 people"),
        ({"a": [1.0, 2, 3, 4], "b": [1.0, 2, 3, 4], "person": [1, 2, 3, 4]}, "two pairs"),
    ],
)
def test_limits_refuse_what_they_cannot_answer(arguments, said):
    with pytest.raises(InvalidInput, match=said):
        bland_altman(**arguments)


# ---- Deming ----------------------------------------------------------------------------------------------------------

# Data of two public R packages' vignettes; expected lines from an independent program.
TEN_X = [7, 8.3, 10.5, 9, 5.1, 8.2, 10.2, 10.3, 7.1, 5.9]
TEN_Y = [7.9, 8.2, 9.6, 9, 6.5, 7.3, 10.2, 10.6, 6.3, 5.2]


@pytest.mark.parametrize(
    ("error_ratio", "intercept", "slope"),
    [(1, 0.390925, 0.942289), (2, 0.634663, 0.912419), (0.5, 0.128475, 0.974452)],
)
def test_deming_of_ten_pairs(error_ratio, intercept, slope):
    found = deming(TEN_X, TEN_Y, error_ratio)
    assert (found.intercept, found.slope) == pytest.approx((intercept, slope), abs=5e-7)


def test_deming_of_six_pairs():
    found = deming([1, 2, 3, 4, 5, 6], [2.3, 1.3, 4.1, 3.5, 6.3, 3])
    assert (found.intercept, found.slope) == pytest.approx((0.423519, 0.855185), abs=5e-7)


def test_deming_of_creatinine_with_its_jackknife_errors(creatinine):
    found = deming(*creatinine)
    assert (found.intercept, found.slope) == pytest.approx((-0.058913, 1.054539), abs=5e-7)
    t = stats.t.ppf(0.975, 106)
    errors = [(high - low) / 2 / t for low, high in (found.intercept_ci, found.slope_ci)]
    assert errors == pytest.approx([0.03438, 0.02488], abs=5e-6)


def test_deming_of_peak_flow(peak_flow):
    found = deming(peak_flow["wright1"], peak_flow["mini1"])
    assert (found.intercept, found.slope) == pytest.approx((15.2316, 0.970881), abs=5e-5)


def test_deming_of_equal_errors_is_the_first_principal_axis(creatinine):
    # Orthogonal regression, here by singular values.
    x, y = creatinine
    axis = np.linalg.svd(np.column_stack([x - x.mean(), y - y.mean()]), full_matrices=False)[2][0]
    assert deming(x, y).slope == pytest.approx(axis[1] / axis[0], rel=1e-12)


def test_deming_is_the_same_line_from_both_sides():
    one, other = deming(TEN_X, TEN_Y, 2), deming(TEN_Y, TEN_X, 0.5)
    assert other.slope == pytest.approx(1 / one.slope, rel=1e-12)
    assert other.intercept == pytest.approx(-one.intercept / one.slope, rel=1e-12)


def test_deming_with_an_exact_y_tends_to_ordinary_regression_of_x():
    # A tiny error ratio puts all error on x: the line of x on y, turned round.
    found, regression = deming(TEN_X, TEN_Y, 1e-9), stats.linregress(TEN_Y, TEN_X)
    assert found.slope == pytest.approx(1 / regression.slope, rel=1e-6)


@pytest.mark.parametrize(
    ("x", "y", "error_ratio", "said"),
    [
        ([1, 2, 3], [1, 2, 3], 1, "at least 4"),
        ([1, 2, 3, 4], [1, 2, 3, 4], 0, "error ratio"),
        ([1, 1, 1, 1], [1, 2, 3, 4], 1, "do not vary together"),
    ],
)
def test_deming_refuses_what_it_cannot_answer(x, y, error_ratio, said):
    with pytest.raises(InvalidInput, match=said):
        deming(x, y, error_ratio)


# ---- Passing-Bablok --------------------------------------------------------------------------------------------------


def test_passing_bablok_of_creatinine(creatinine):
    # A public R package prints -0.1171729 (-0.2001149, -0.020000) and 1.0880089 (1.000000, 1.173005); it breaks ties
    # by angles, hence the tolerance.
    found = passing_bablok(*creatinine)
    assert found.intercept == pytest.approx(-0.1171729, abs=2e-4)
    assert found.slope == pytest.approx(1.0880089, abs=2e-4)
    assert found.intercept_ci == pytest.approx((-0.2001149, -0.02), abs=2e-4)
    assert found.slope_ci == pytest.approx((1.0, 1.173005), abs=2e-4)


def test_passing_bablok_of_peak_flow(peak_flow):
    found = passing_bablok(peak_flow["wright1"], peak_flow["mini1"])
    assert (found.intercept, found.slope) == pytest.approx((-24.3056, 1.064815), abs=5e-5)
    assert found.intercept_ci == pytest.approx((-178.03, 82.94), abs=5e-3)
    assert found.slope_ci == pytest.approx((0.837079, 1.396825), abs=5e-7)


def test_passing_bablok_without_slopes_below_minus_one_is_the_median_slope():
    # With none to shift by, the estimate is that of Theil and Sen, which a general library has.
    x = np.arange(1.0, 31.0)
    y = 3 + 1.2 * x + np.random.default_rng(4).uniform(-0.9, 0.9, 30)
    assert np.diff(y).min() > -1
    assert passing_bablok(x, y).slope == pytest.approx(stats.theilslopes(y, x).slope, rel=1e-12)


@given(st.integers(0, 2**32 - 1))
def test_passing_bablok_turns_with_its_axes(seed):
    # The estimator was made to be the same line whichever method is called x (Passing & Bablok 1983). Odd numbers of
    # slopes only, so that the median is one of them.
    rng = np.random.default_rng(seed)
    x = rng.uniform(50, 300, 15)
    y = x * rng.lognormal(0, 0.05, 15)
    one, other = passing_bablok(x, y), passing_bablok(y, x)
    assert other.slope == pytest.approx(1 / one.slope, rel=1e-9)
    assert other.slope_ci == pytest.approx((1 / one.slope_ci[1], 1 / one.slope_ci[0]), rel=1e-9)


def test_passing_bablok_hardly_notices_one_wild_pair():
    x = np.arange(1.0, 42.0)
    y = 2 + 1.5 * x
    y[20] = 900
    assert passing_bablok(x, y).slope == pytest.approx(1.5, abs=1e-9)
    assert abs(deming(x, y).slope - 1.5) > 0.5


@pytest.mark.parametrize(
    ("x", "y", "said"),
    [
        ([1, 2, 3], [1, 2, 3], "at least 4"),
        ([5, 5, 5, 5], [2, 2, 2, 2], "no slope"),
        ([1, 2, 3, 4], [4, 3, 2, 1], "no slope"),
        ([5, 5, 5, 5], [1, 2, 3, 4], "share their x"),
    ],
)
def test_passing_bablok_refuses_what_it_cannot_answer(x, y, said):
    with pytest.raises(InvalidInput, match=said):
        passing_bablok(x, y)
