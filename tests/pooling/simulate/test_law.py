"""The law's truth against plain draws from the law, and its pieces against closed forms."""

import numpy as np
import pytest
from scipy import integrate, stats

from pooling.errors import InvalidInput
from pooling.simulate.law import (
    DEGREES_OF_FREEDOM,
    RESIDUAL_LIMIT,
    SITE_LAW,
    Effects,
    Law,
    SensorModelPlan,
    Spread,
    draw_law,
    draw_worn_min,
    expected_absolute_deviation,
    first_day_frac,
    residual_sd,
)
from pooling.vocabulary import SITES

MODEL = SensorModelPlan("demo-b10", 10, ("upper_arm.back",))


@pytest.mark.parametrize("centre", [-0.8, -0.1, 0.0, 0.02, 0.5])
@pytest.mark.parametrize("sd", [0.03, 0.2])
def test_the_expected_absolute_deviation_is_the_integral_it_stands_for(centre, sd):
    def integrand(y: float) -> float:
        return abs(np.expm1(y)) * stats.norm.pdf(y, centre, sd)

    lower, upper = centre - 10 * sd, centre + 10 * sd
    by_integration, _ = integrate.quad(integrand, lower, upper, points=[min(max(0.0, lower), upper)], epsabs=1e-11)
    assert expected_absolute_deviation(np.array([centre]), sd)[0] == pytest.approx(by_integration, abs=1e-9)


def test_a_small_deviation_has_the_half_normal_mean():
    """E|Y| of a centred normal is sd times sqrt(2 / pi) (common knowledge); for a small sd exp(Y) - 1 is Y."""
    assert expected_absolute_deviation(np.array([0.0]), 1e-4)[0] == pytest.approx(1e-4 * np.sqrt(2 / np.pi), rel=1e-4)


def test_the_residual_has_the_spread_of_a_held_t():
    expected, _ = integrate.quad(
        lambda t: min(abs(t), RESIDUAL_LIMIT) ** 2 * stats.t.pdf(t, DEGREES_OF_FREEDOM), -np.inf, np.inf
    )
    assert residual_sd() == pytest.approx(np.sqrt(expected), abs=1e-7)
    assert residual_sd() < np.sqrt(5 / 3)


@pytest.mark.parametrize("rated_life_days", [10, 14])
def test_the_first_days_share_matches_drawn_wears(rated_life_days):
    rng = np.random.default_rng(11)
    worn = np.array([draw_worn_min(rng, rated_life_days) for _ in range(20_000)])
    assert worn.max() == rated_life_days * 1440
    assert (worn % 5 == 0).all()
    shares = 287 / (worn // 5)  # minutes 5 to 1435 are the first day's
    error = shares.std() / np.sqrt(shares.size)
    assert first_day_frac(rated_life_days) == pytest.approx(shares.mean(), abs=4 * error)


@pytest.mark.parametrize(("site", "seed"), [("upper_arm.back", 1), ("calf", 2)])
def test_the_truth_matches_plain_draws_from_the_law(site, seed):
    """400,000 wears of one reading each, drawn without any of the law's own code."""
    law = draw_law(np.random.default_rng(seed), SITES, [MODEL])
    rng = np.random.default_rng(100 + seed)
    n_wears = 400_000
    cell = law.cells[site, MODEL.slug]
    first_day = np.where(rng.random(n_wears) < first_day_frac(10), 0.3, 0.0)
    location = cell.location + sum(rng.normal(0, sd, n_wears) for sd in (0.04, 0.02, 0.03))
    log_variance = cell.log_variance + first_day + sum(rng.normal(0, sd, n_wears) for sd in (0.35, 0.15, 0.25))
    held = np.clip(rng.standard_t(5, n_wears), -7, 7)
    relative = 100 * np.expm1(location + np.exp(log_variance / 2) * held / held.std())
    truth = law.truth(site, MODEL.slug)
    error = 1 / np.sqrt(n_wears)
    assert truth.mard_pct == pytest.approx(np.abs(relative).mean(), abs=4 * error * np.abs(relative).std())
    assert truth.bias_pct == pytest.approx(relative.mean(), abs=4 * error * relative.std())


def test_drawn_readings_follow_the_law():
    law = draw_law(np.random.default_rng(3), SITES, [MODEL])
    cell = Effects(0.02, 2 * np.log(0.1))
    elapsed_min = np.repeat([1435, 1440], 200_000)
    ratios = law.log_ratios(np.random.default_rng(4), cell, Effects(0.03, 0.2), elapsed_min)
    later, first_day = ratios[200_000:], ratios[:200_000]
    assert ratios.mean() == pytest.approx(0.05, abs=4 * 0.12 / np.sqrt(400_000))
    assert later.std() == pytest.approx(0.1 * np.exp(0.1), rel=0.01)
    assert first_day.std() / later.std() == pytest.approx(np.exp(0.15), rel=0.015)


def test_the_truth_lies_where_published_comparisons_lie():
    """Arm 8 to 12 %, abdomen 9 to 13 % over published site comparisons, such as Garg et al., Diabetes Technol Ther
    2022;24:373-380 (arm 8.2, abdomen 9.1 %) and Steineck et al., Diabetes Technol Ther 2019;21(5) (12.0, 12.3 %)."""
    plain = Law(
        {(site, "m"): Effects(location, 2 * np.log(sd)) for site, (location, sd) in SITE_LAW.items()}, {"m": 14}
    )
    mard_pct = {site: plain.truth(site, "m").mard_pct for site in SITE_LAW}
    assert 8 < mard_pct["upper_arm.back"] < 12
    assert 9 < mard_pct["abdomen.front"] < 13
    assert all(7 < value < 14 for value in mard_pct.values())
    assert set(SITE_LAW) == set(SITES)


def test_effects_add_and_spreads_combine():
    assert Effects(1.0, 2.0) + Effects(0.5, -2.0) == Effects(1.5, 0.0)
    assert Spread(3.0, 4.0, 12.0).total == 13.0


def test_a_cell_outside_the_law_is_refused():
    law = draw_law(np.random.default_rng(5), ["calf"], [MODEL])
    with pytest.raises(InvalidInput, match="chest"):
        law.truth("chest", MODEL.slug)
