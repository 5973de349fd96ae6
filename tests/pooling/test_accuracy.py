import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import erfinv
from statsmodels.stats.proportion import proportion_confint

from pooling.accuracy import HALF_NORMAL_MEAN, agreement, share_interval, wilson_interval, within_rule
from pooling.errors import InvalidInput


@pytest.fixture(scope="module")
def hand_set(published):
    rows = published("agreement_hand_set")
    return tuple(np.array([float(row[name]) for row in rows]) for name in ("reference_mg_dl", "sensor_mg_dl"))


def test_hand_set(hand_set):
    # 24 pairs at the edges of the rules; expected figures worked out apart from this code.
    found = agreement(*hand_set)
    assert found.n_pairs == 24
    assert found.mard_pct == pytest.approx(23.989625, abs=5e-7)
    assert found.median_ard_pct == pytest.approx(16.754386, abs=5e-7)
    assert found.mad_mg_dl == pytest.approx(23.21875, abs=1e-9)
    assert found.bias_mg_dl == pytest.approx(12.29375, abs=1e-9)
    assert found.relative_bias_pct == pytest.approx(18.114625, abs=5e-7)
    assert found.within_15_15_pct == pytest.approx(100 * 10 / 24)
    assert found.within_20_20_pct == pytest.approx(100 * 18 / 24)
    assert found.within_30_30_pct == pytest.approx(100 * 20 / 24)
    assert found.within_40_40_pct == pytest.approx(100 * 22 / 24)


@pytest.mark.parametrize(
    ("band", "switch_mg_dl", "inside"),
    [(15, 100, 10), (15, 70, 8), (20, 100, 18), (20, 70, 17), (30, 100, 20), (40, 100, 22)],
)
def test_hand_set_by_band_and_switch(hand_set, band, switch_mg_dl, inside):
    assert within_rule(*hand_set, band, switch_mg_dl=switch_mg_dl).sum() == inside


def test_mard_is_no_ratio_of_sums(hand_set):
    reference, sensor = hand_set
    ratio_of_sums = 100 * np.abs(sensor - reference).sum() / reference.sum()
    assert ratio_of_sums == pytest.approx(20.5703, abs=5e-5)
    assert agreement(reference, sensor).mard_pct != pytest.approx(ratio_of_sums, abs=1)


@pytest.mark.parametrize(
    ("reference", "sensor", "inside"),
    [
        (99.99, 114.99, True),
        (99.99, 115, False),
        (100, 115, True),
        (100, 85, True),
        (181, 208.15, True),
        (69, 54, True),
    ],
)
def test_edges_of_15_15_are_inside(reference, sensor, inside):
    # ISO 15197:2013: within 15 mg/dL below 100 mg/dL, within 15 % from 100 mg/dL on.
    assert within_rule([reference], [sensor], 15).tolist() == [inside]


@pytest.mark.parametrize(("cv", "mard_pct"), [(0.10, 7.979), (0.075, 5.984)])
def test_mard_of_unbiased_normal_error(cv, mard_pct):
    # Half-normal mean: MARD = sqrt(2 / pi) * CV, 0.7979 CV.
    quantiles = (np.arange(200_000) + 0.5) / 200_000
    error = np.sqrt(2) * cv * erfinv(2 * quantiles - 1)
    assert agreement(np.full(200_000, 100.0), 100 * (1 + error)).mard_pct == pytest.approx(mard_pct, abs=2e-3)


@given(st.lists(st.tuples(st.integers(2000, 60000), st.integers(2000, 60000)), min_size=1, max_size=30))
def test_order_of_pairs_never_matters_and_wider_bands_hold_more(pairs):
    reference, sensor = np.array(pairs).T / 100
    found = agreement(reference, sensor)
    turned = agreement(reference[::-1], sensor[::-1])
    assert found.mard_pct == pytest.approx(turned.mard_pct, rel=1e-12)
    assert found.within_15_15_pct <= found.within_20_20_pct
    assert abs(found.relative_bias_pct) <= found.mard_pct + 1e-9


@pytest.mark.parametrize(
    ("reference", "sensor", "said"),
    [
        ([100], [100, 101], "same length"),
        ([[100]], [[100]], "two vectors"),
        ([100, np.nan], [100, 101], "finite"),
        ([100], [np.nan], "showed no number"),
        ([0], [100], "above zero"),
    ],
)
def test_what_cannot_be_compared_is_refused(reference, sensor, said):
    with pytest.raises(InvalidInput, match=said):
        agreement(reference, sensor)


def test_no_pair_no_figure():
    with pytest.raises(InvalidInput, match="no pair"):
        agreement([], [])
    assert within_rule([], [], 15).tolist() == []
    with pytest.raises(InvalidInput, match="band"):
        within_rule([100], [100], 0)


# ---- intervals of shares ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("k", "n", "wilson", "exact"),
    [
        # Worked out apart from this code, by the formulas of Wilson (J Am Stat Assoc 1927;22:209-212) and of Clopper
        # and Pearson (Biometrika 1934;26:404-413); 0 in 10 is the textbook case, 1 - .025^(1/10) = .3085.
        (18, 20, (0.6990, 0.9721), (0.6830, 0.9877)),
        (45, 50, (0.7864, 0.9565), (0.7819, 0.9667)),
        (95, 100, (0.8882, 0.9785), (0.8872, 0.9836)),
        (0, 10, (0.0, 0.2775), (0.0, 0.3085)),
        (10, 10, (0.7225, 1.0), (0.6915, 1.0)),
    ],
)
def test_intervals_of_shares_as_published(k, n, wilson, exact):
    assert wilson_interval(k, n) == pytest.approx(wilson, abs=5e-5)
    assert share_interval(k / n, n) == pytest.approx(exact, abs=5e-5)


@pytest.mark.parametrize(("k", "n"), [(1, 3), (7, 14), (83, 100), (1999, 2000)])
def test_intervals_of_shares_as_a_general_library_has_them(k, n):
    assert wilson_interval(k, n) == pytest.approx(proportion_confint(k, n, method="wilson"), rel=1e-9)
    assert share_interval(k / n, n) == pytest.approx(proportion_confint(k, n, method="beta"), rel=1e-9)


def test_a_share_of_part_of_a_trial_lies_between_its_neighbours():
    widths = [high - low for low, high in (share_interval(0.8, n) for n in (20, 20.5, 21))]
    assert widths[0] > widths[1] > widths[2]


def test_the_mean_of_a_half_normal_error():
    # Its mean by quadrature of 2 x phi(x) from 0 on.
    x = np.linspace(0, 12, 200_001)
    assert np.trapezoid(2 * x * np.exp(-(x**2) / 2) / np.sqrt(2 * np.pi), x) == pytest.approx(
        HALF_NORMAL_MEAN, abs=1e-9
    )


@pytest.mark.parametrize(("share", "n"), [(1.1, 5), (-0.1, 5), (0.5, 0)])
def test_a_share_is_of_something(share, n):
    with pytest.raises(InvalidInput, match="between 0 and 1"):
        share_interval(share, n)


@pytest.mark.parametrize(("k", "n"), [(3, 2), (0, 0), (-1, 4)])
def test_counts_are_of_something(k, n):
    with pytest.raises(InvalidInput, match="at least 1"):
        wilson_interval(k, n)
