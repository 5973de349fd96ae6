"""Shares still on: against published survival tables, in falling order, with the ends that are left."""

from itertools import pairwise

import lifelines
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pooling.errors import InvalidInput
from pooling.hierarchy import FitRules, fit_channel
from pooling.hierarchy.results import Estimate
from pooling.outcomes.survival import ENDS, falling, survival
from pooling.sealing import SEAL_VERSION_1, Cell
from pooling.sealing.outcomes import values_of
from tests.calibration.outcomes import Summary
from tests.pooling.hierarchy.outcomes import days, people, seal, sealed_days

RULES = FitRules(draws=200)
LIVES = {"demo-a14": 14, "demo-b10": 10, "demo-c15": 15}
CHANNELS = ("on3", "on7", "on10", "on14", "on_rated", *ENDS)

# Freireich et al. (1963), Blood 21, 699-716: weeks in remission of 21 pairs of patients, read here as days on the skin.
# A plus there, still in remission when last seen, is False here.
PLACEBO = (1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23)
TREATED = (6, 6, 6, 6, 7, 9, 10, 10, 11, 13, 16, 17, 19, 20, 22, 23, 25, 32, 32, 34, 35)
SEEN = (True, True, True, False, True, False, True, False, False, True, True, *[False] * 3, True, True, *[False] * 5)


def shares_on(weeks, *, life: int = 40) -> dict[int, float]:
    """Mean over plain wears of what sealing sums up: the share on at each day."""
    wears = [Summary(worn_min=week * 1440, end_reason="fell_off") for week in weeks]
    found = values_of(wears, "survival", SEAL_VERSION_1, lives_days=np.full(len(wears), life)).value
    days = zip((3, 7, 10, 14), found, strict=False)
    return {day: float(own.mean()) + SEAL_VERSION_1.channels[f"on{day}"].reference for day, own in days}


def kaplan_meier(weeks, seen=None):
    curve = lifelines.KaplanMeierFitter().fit(weeks, seen)
    # The table steps at the end of a week; on at day 7 means: not ended before it.
    return {day: float(curve.predict(day - 0.001)) for day in (3, 7, 10, 14)}


class TestPublishedTables:
    def test_where_every_end_is_seen_the_shares_are_those_of_the_table(self):
        """Product-limit estimates of the placebo arm: Kleinbaum and Klein, Survival Analysis (3rd ed. 2012), ch. 2."""
        published = {3: 0.8095, 7: 0.5714, 10: 0.3810, 14: 0.1905}
        assert shares_on(PLACEBO) == pytest.approx(published, abs=5e-5)
        assert kaplan_meier(PLACEBO) == pytest.approx(published, abs=5e-5)

    def test_the_referee_has_the_published_table_of_the_other_arm(self):
        """Same source: 0.857 after week 6, 0.807 after week 7, 0.753 after week 10, 0.690 after week 13."""
        assert kaplan_meier(TREATED, SEEN) == pytest.approx({3: 1.0, 7: 0.8571, 10: 0.8067, 14: 0.6902}, abs=1e-4)

    @pytest.mark.filterwarnings("ignore:Starting with pandas")  # lifelines and the next pandas
    def test_the_arms_differ_as_published(self):
        """Log-rank chi-square 16.79 with one degree of freedom, same source: the table is copied right."""
        arms = lifelines.statistics.logrank_test(PLACEBO, TREATED, event_observed_B=SEEN)
        assert arms.test_statistic == pytest.approx(16.79, abs=5e-3)

    def test_the_hazard_between_two_days_is_ends_over_those_still_on(self):
        """What a day's share leaves of an earlier day's is the discrete hazard of an event table (lifelines)."""
        edges = [0, 2.999, 6.999, 9.999, 13.999]
        events = lifelines.utils.survival_table_from_events(PLACEBO, np.ones(21), intervals=edges)
        hazards = (events["observed"] / events["at_risk"]).to_numpy()[-4:]
        shares = [1.0, *shares_on(PLACEBO).values()]
        assert [1 - after / before for before, after in pairwise(shares)] == pytest.approx(hazards)
        assert hazards == pytest.approx([4 / 21, 5 / 17, 4 / 12, 4 / 8])

    def test_an_end_of_another_kind_is_an_end_so_that_no_share_flatters(self):
        ours = shares_on(TREATED)
        assert ours == pytest.approx(kaplan_meier(TREATED))
        table = kaplan_meier(TREATED, SEEN)
        assert all(ours[day] <= table[day] for day in table)
        assert ours[14] < table[14]


def fitted(records, lives=LIVES, channels=CHANNELS):
    fits = {name: fit_channel(records, name, RULES, np.random.default_rng(i)) for i, name in enumerate(channels)}
    return {(row.place, row.sensor_model): row for row in survival(records, fits, rated_life_days=lives)}


@pytest.fixture(scope="module")
def mixed():
    ten = [Summary(worn_min=10 * 1440)] * 25 + [Summary(worn_min=1440, end_reason="device_error")] * 15
    blocks = [
        (Cell("everyone", "calf", "demo-a14"), people(days(40, 0.8))),
        (Cell("everyone", "calf", "demo-b10"), people(ten, first=50, life=10)),
        (Cell("everyone", "calf", "demo-c15"), people(days(20, 0.7), first=150, life=15)),
        (Cell("everyone", "chest", "demo-a14"), people(days(20, 0.9), first=120)),
    ]
    records = seal(blocks, "survival")
    return fitted(records, channels=CHANNELS)


def test_shares_never_rise_from_day_to_day(mixed):
    for row in mixed.values():
        for part in ("median", "lower", "upper"):
            chain = [getattr(share, part) for _, share in sorted(row.on_pct.items())] + [getattr(row.rated_pct, part)]
            assert all(first >= second for first, second in pairwise(chain))


def test_where_a_day_is_the_rated_life_both_are_one_figure(mixed):
    assert mixed["calf", "demo-b10"].on_pct[10] is mixed["calf", "demo-b10"].rated_pct
    assert mixed["calf", "demo-a14"].on_pct[14] is mixed["calf", "demo-a14"].rated_pct
    assert mixed["chest", None].on_pct[14] is mixed["chest", None].rated_pct


def test_a_day_that_only_some_sensors_reach_names_the_people_behind_it(mixed):
    row = mixed["calf", None]
    assert set(row.on_pct) == {3, 7, 10}
    share, n_people = row.later_pct[14]
    assert (n_people, row.n_people) == (60, 100)
    assert share.median == pytest.approx(77, abs=10)
    assert 14 not in mixed["calf", "demo-b10"].on_pct
    assert mixed["calf", "demo-b10"].later_pct == {}


def test_early_ends_are_told_apart_and_what_is_left_is_another_kind(mixed):
    ten = mixed["calf", "demo-b10"].ends_pct
    fourteen = mixed["calf", "demo-a14"].ends_pct
    assert ten["off_device"].median > 10 > ten["off_body"].median
    assert fourteen["off_adhesive"].median > fourteen["off_device"].median
    assert 0 <= fourteen["off_other"].lower <= fourteen["off_other"].median < 12


def test_an_unknown_life_leaves_the_days_as_they_are():
    row = fitted(sealed_days(0.8), lives={})["calf", "demo-a14"]
    assert row.on_pct[14].median >= row.rated_pct.median


def test_nothing_fitted_is_nothing():
    assert survival(sealed_days(0.8), {}, rated_life_days=LIVES) == ()


def test_fits_of_other_records_are_refused():
    records = sealed_days(0.8)
    fit = fit_channel(records, "on_rated", RULES, np.random.default_rng(0))
    with pytest.raises(InvalidInput, match="other records"):
        survival(sealed_days(0.8, places=("calf",)), {"on_rated": fit}, rated_life_days=LIVES)


@given(st.lists(st.lists(st.floats(0, 1), min_size=3, max_size=3), max_size=6))
def test_falling_order_keeps_the_numbers_and_the_order_of_ends(rows):
    given = [Estimate(middle, low, high) for low, middle, high in map(sorted, rows)]
    made = falling(given)
    assert sorted(share.median for share in made) == sorted(share.median for share in given)
    assert all(share.lower <= share.median <= share.upper for share in made)
    assert all(a.median >= b.median and a.lower >= b.lower and a.upper >= b.upper for a, b in pairwise(made))
