import numpy as np
import pytest
from scipy import stats

from pooling.accuracy import share_interval
from pooling.columns import columns_from
from pooling.record import record_from
from pooling.report import bootstrap
from pooling.simulate import single_wear

N_DAYS, A_DAY = 14, 1440


def _wear_of_days(rng, *, n_days=N_DAYS, a_day=6, day_sd=1.0):
    """Minutes, and values about a level of their own each day."""
    minutes = np.sort(rng.choice(A_DAY // 5, (n_days, a_day)) * 5 + A_DAY * np.arange(n_days)[:, None], axis=1)
    values = 10 + rng.normal(0, day_sd, (n_days, 1)) + rng.normal(0, 2, (n_days, a_day))
    return minutes.ravel(), values.ravel()


def test_draws_are_of_whole_stretches():
    rng = np.random.default_rng(4)
    minutes, _ = _wear_of_days(rng)
    drawn = bootstrap.draw(minutes, rng)
    assert drawn.weights.shape == (bootstrap.N_DRAWS, minutes.size)
    assert (drawn.n_stretches, drawn.stretch_min) == (N_DAYS, A_DAY)
    by_day = drawn.weights.reshape(-1, N_DAYS, 6)
    assert (by_day == by_day[:, :, :1]).all()
    assert (by_day[:, :, 0].sum(axis=1) == N_DAYS).all()


@pytest.mark.parametrize(("n_days", "stretch_min"), [(8, 1440), (7, 720), (4, 720), (3, 360), (1, 180)])
def test_shorter_wears_are_drawn_in_shorter_stretches(n_days, stretch_min):
    minutes = np.arange(0, n_days * A_DAY, 60)
    assert bootstrap.draw(minutes, np.random.default_rng(1)).stretch_min == stretch_min


def test_seven_moments_have_no_interval():
    assert bootstrap.draw(np.array([0, 5, 10, 15, 20, 25, 30, 30]), np.random.default_rng(1)) is None


def test_the_interval_of_a_mean_holds_the_truth_where_days_differ():
    # Readings of a day resemble each other, so a t interval of single readings is too narrow; that of days is not.
    rng = np.random.default_rng(8)
    n_wears, drawn_hold, t_hold = 400, 0, 0
    for _ in range(n_wears):
        minutes, values = _wear_of_days(rng, day_sd=1.5)
        low, high = bootstrap.mean_intervals(bootstrap.draw(minutes, rng, n_draws=500), values[None])[0]
        drawn_hold += low <= 10 <= high
        half = stats.t.ppf(0.975, values.size - 1) * stats.sem(values)
        t_hold += abs(values.mean() - 10) <= half
    # 400 wears leave 2.2 points of chance (two standard errors) at 95 %.
    assert 0.925 <= drawn_hold / n_wears <= 0.975
    assert t_hold / n_wears < 0.88


def test_of_independent_pairs_it_is_the_textbook_interval():
    # Each moment its own stretch: the spread of a drawn mean is that of the textbook, s / sqrt(n) by n - 1.
    rng = np.random.default_rng(9)
    values = rng.normal(0, 1, 40)
    drawn = bootstrap.draw(np.arange(40) * A_DAY, rng, n_draws=20_000)
    low, high = bootstrap.mean_intervals(drawn, values[None])[0]
    half = stats.t.ppf(0.975, 39) * stats.sem(values)
    assert (high - low) / 2 == pytest.approx(half, rel=0.04)
    assert (high + low) / 2 == pytest.approx(values.mean(), abs=0.03)


def test_the_median_of_each_draw_is_the_median_of_what_was_drawn():
    rng = np.random.default_rng(3)
    values = rng.integers(0, 9, 20).astype(float)
    drawn = bootstrap.draw(np.arange(20) * 360, rng, n_draws=200)
    by_hand = [np.median(np.repeat(values, times.astype(int))) for times in drawn.weights]
    assert drawn.n_stretches == 10
    t = stats.t.ppf(0.975, 9)
    tails = stats.norm.cdf(np.array([-1, 1]) * np.sqrt(10 / 9) * t)
    assert bootstrap.median_interval(drawn, values) == pytest.approx(tuple(np.quantile(by_hand, tails)))


def test_a_share_of_all_pairs_still_has_a_margin():
    minutes = np.arange(14) * A_DAY
    drawn = bootstrap.draw(minutes, np.random.default_rng(1))
    ((low, high),) = bootstrap.share_intervals(drawn, np.ones((1, 14), dtype=bool))
    # Clopper-Pearson of 14 in 14: the lower end solves low^14 = .025.
    assert low == pytest.approx(0.025 ** (1 / 14), abs=1e-9)
    assert high == 1


def test_pairs_that_go_together_count_as_fewer():
    rng = np.random.default_rng(2)
    minutes = (np.arange(14)[:, None] * A_DAY + np.arange(6) * 60).ravel()
    drawn = bootstrap.draw(minutes, rng, n_draws=40_000)
    together, apart = np.repeat(np.arange(14) % 2 == 0, 6), np.tile(np.arange(6) % 2 == 0, 14)
    whole_days, every_day = bootstrap.share_intervals(drawn, np.stack([together, apart]))
    # Seven of fourteen days inside: means of days have the variance .25 / 13, so the pairs are worth 13, and
    # by Korn and Graubard's correction 13 (t83 / t13)^2, with t from any table.
    worth = 13 * (1.989 / 2.160) ** 2
    assert whole_days == pytest.approx(share_interval(0.5, worth), abs=0.003)
    assert every_day[1] - every_day[0] < 0.5 * (whole_days[1] - whole_days[0])


def test_the_same_readings_draw_the_same():
    wears = [
        columns_from(record_from(single_wear(np.random.default_rng(seed), "calf", "demo-a14"))) for seed in (1, 1, 2)
    ]
    first, same, other = (bootstrap.generator_of(columns).random() for columns in wears)
    assert first == same != other
