import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pooling.stratum import Stratum, errors_of, joined, strata_of

FIGURES = ("n_pairs", "m", "s", "m3", "m4", "a1", "a2", "k15", "k20", "g", "ga")


def _one(reference, sensor, *, keep_ends=False):
    member = np.ones((1, len(reference)), dtype=bool)
    return strata_of(errors_of(np.array(reference, float), np.array(sensor, float)), member, keep_ends=keep_ends)[0]


def test_figures_of_three_pairs_worked_by_hand():
    # Sensor 1.1, 0.9 and 1.2 times the reference; both rules hold for the first two, only 20/20 for the third.
    found = _one([100, 100, 100], [110, 90, 120])
    y = np.log([1.1, 0.9, 1.2])
    u = y - y.mean()
    assert found.n_pairs == 3
    assert found.m == pytest.approx(np.log(1.1 * 0.9 * 1.2) / 3, rel=1e-14)
    assert found.s == pytest.approx((u**2).sum(), rel=1e-14)
    assert found.m3 == pytest.approx((u**3).sum(), rel=1e-13)
    assert found.m4 == pytest.approx((u**4).sum(), rel=1e-14)
    assert found.a1 == pytest.approx(0.4, rel=1e-14)
    assert found.a2 == pytest.approx(0.06, rel=1e-14)
    assert (found.k15, found.k20) == (2, 3)
    assert found.g == pytest.approx(u[0] * u[1] + u[1] * u[2], rel=1e-13)
    d = np.array([0.1, 0.1, 0.2]) - 0.4 / 3
    assert found.ga == pytest.approx(d[0] * d[1] + d[1] * d[2], rel=1e-12)


def test_equal_readings_have_no_spread_at_all():
    found = _one([100] * 7, [107] * 7)
    assert found.s == found.m3 == found.m4 == found.g == 0


def test_a_stratum_sees_its_own_neighbours_only():
    rng = np.random.default_rng(8)
    reference = rng.uniform(60, 250, 30)
    sensor = reference * rng.lognormal(0, 0.1, 30)
    member = rng.random((4, 30)) < [[0.9], [0.5], [0.1], [0.0]]
    for row, found in zip(member, strata_of(errors_of(reference, sensor), member, keep_ends=True), strict=True):
        alone = _one(reference[row], sensor[row], keep_ends=True)
        for name in FIGURES:
            assert getattr(found, name) == pytest.approx(getattr(alone, name), rel=1e-12, abs=1e-15)
        assert found.ends == alone.ends


def test_lag_products_follow_the_memory_of_the_readings():
    # For an AR(1) series, E sum of lag-1 products over E sum of squares tends to rho (textbook; memory).
    rng = np.random.default_rng(3)
    noise = rng.normal(0, 0.1, 60_000)
    series = np.empty_like(noise)
    series[0] = noise[0]
    for j in range(1, noise.size):
        series[j] = 0.6 * series[j - 1] + noise[j]
    found = _one(np.full(noise.size, 100.0), 100 * np.exp(series))
    assert found.g / found.s == pytest.approx(0.6, abs=0.015)


def test_no_pair_no_figures():
    assert _one([], []) == Stratum()


_RATIOS = st.lists(st.floats(0.4, 2.5), max_size=12)


@given(_RATIOS, _RATIOS, _RATIOS)
def test_joined_parts_equal_the_whole(first, second, third):
    reference = np.linspace(60, 300, 36)
    whole = first + second + third
    part = {}
    start = 0
    for name, ratios in (("a", first), ("b", second), ("c", third)):
        r = reference[start : start + len(ratios)]
        part[name] = _one(r, r * np.array(ratios), keep_ends=True)
        start += len(ratios)
    expected = _one(reference[:start], reference[:start] * np.array(whole), keep_ends=True)
    for found in (joined(joined(part["a"], part["b"]), part["c"]), joined(part["a"], joined(part["b"], part["c"]))):
        for name in FIGURES:
            assert getattr(found, name) == pytest.approx(getattr(expected, name), rel=1e-12, abs=1e-12)
        assert found.ends == expected.ends
