"""Rounding, bands and bounds: what may be read by anybody, and that nothing else can pass for it."""

import dataclasses
import pickle
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pooling import protection
from pooling.errors import InvalidInput, TooFewPeople
from pooling.protection import MARD_PCT, WITHHELD, Published, Withheld, band_people, step_of

PEOPLE = st.integers(min_value=5, max_value=200_000)
FIGURES = st.floats(min_value=-60, max_value=60, allow_nan=False)


@dataclass(frozen=True)
class Estimate:
    median: float
    lower: float
    upper: float


@st.composite
def estimates(draw, figures=FIGURES):
    lower, median, upper = sorted(draw(st.tuples(figures, figures, figures)))
    return Estimate(median, lower, upper)


def is_multiple(number: Decimal, step: Decimal) -> bool:
    return number % step == 0


class TestPublishedAndWithheld:
    def test_nobody_else_can_make_a_published_figure(self):
        with pytest.raises(TypeError, match=r"only pooling\.protection"):
            Published(value=Decimal("9.5"))
        made = protection.publish_count(20)
        with pytest.raises((TypeError, ValueError)):
            dataclasses.replace(made, value=Decimal(21))

    def test_a_published_figure_cannot_be_changed(self):
        made = protection.publish_count(20)
        with pytest.raises(dataclasses.FrozenInstanceError):
            made.value = Decimal(21)

    def test_withheld_is_one_object_that_carries_nothing(self):
        assert Withheld() is WITHHELD
        assert pickle.loads(pickle.dumps(WITHHELD)) is WITHHELD
        assert not hasattr(WITHHELD, "__dict__")
        with pytest.raises(AttributeError):
            WITHHELD.reason = "few people"

    def test_withheld_looks_the_same_whatever_was_hidden(self):
        near = protection.publish_estimate(Estimate(9.0, 8.0, 10.0), n_people=4, k=5)
        far = protection.publish_estimate(Estimate(55.0, 1.0, 60.0), n_people=0, k=5)
        assert near is far is WITHHELD


class TestBands:
    def test_edges(self):
        seen = [band_people(n).at_least for n in (5, 9, 10, 19, 20, 29, 30, 49, 50, 99, 100, 200, 499, 500, 1000, 2000)]
        assert seen == [5, 5, 10, 10, 20, 20, 30, 30, 50, 50, 100, 200, 200, 500, 1000, 2000]

    @given(PEOPLE)
    def test_a_band_holds_its_people_and_the_next_begins_where_it_ends(self, n_people):
        band = band_people(n_people)
        assert band.at_least <= n_people < band.below
        assert band_people(band.at_least) == band
        assert band_people(band.below).at_least == band.below

    @pytest.mark.parametrize("n_people", [0, 1, 4])
    def test_no_band_below_the_floor(self, n_people):
        with pytest.raises(TooFewPeople):
            band_people(n_people)


class TestSteps:
    def test_mard_steps(self):
        # The rule is common practice for means: one person's reach (5 points) over the band's lower end, made coarser.
        steps = {n: step_of(MARD_PCT, band_people(n)) for n in (5, 10, 20, 30, 50, 100, 200, 500, 1000)}
        assert steps == {
            5: Decimal(1),
            10: Decimal("0.5"),
            20: Decimal("0.25"),
            30: Decimal("0.2"),
            50: Decimal("0.1"),
            100: Decimal("0.05"),
            200: Decimal("0.05"),
            500: Decimal("0.01"),
            1000: Decimal("0.005"),
        }

    @given(PEOPLE)
    def test_a_step_is_never_finer_than_the_reach_of_one_person(self, n_people):
        band = band_people(n_people)
        for scale in (protection.MARD_PCT, protection.BIAS_PCT, protection.SHARE_PCT, protection.LOCATION_LOG):
            assert scale.reach / band.at_least <= step_of(scale, band) <= Decimal("2.5") * scale.reach / band.at_least

    def test_reaches_keep_the_proportions_of_spreads_between_people(self):
        """Own simulation of people with log-normal errors, spreads from memory of such studies."""
        rng = np.random.default_rng(20_260_101)
        n_people, n_readings = 600, 1500
        location = rng.normal(0, np.hypot(0.04, 0.02), n_people)
        log_variance = 2 * np.log(0.105) + rng.normal(0, np.hypot(0.35, 0.15), n_people)
        noise = rng.standard_normal((n_people, n_readings))
        log_ratio = location[:, None] + np.exp(log_variance / 2)[:, None] * noise
        error_pct = 100 * np.expm1(log_ratio)
        spread_mard = np.abs(error_pct).mean(axis=1).std()
        spreads = {
            protection.BIAS_PCT: error_pct.mean(axis=1).std(),
            protection.SHARE_PCT: 100 * (np.abs(error_pct) <= 15).mean(axis=1).std(),
            protection.LOCATION_LOG: log_ratio.mean(axis=1).std(),
            protection.LOG_VARIANCE: np.log(log_ratio.var(axis=1)).std(),
            protection.READING_SD_LOG: log_ratio.std(axis=1).std(),
        }
        for scale, spread in spreads.items():
            assert float(scale.reach) == pytest.approx(5 * spread / spread_mard, rel=0.25)


class TestEstimates:
    @given(estimates(), PEOPLE)
    def test_ends_go_outward_and_the_value_to_the_nearest_step(self, estimate, n_people):
        made = protection.publish_estimate(estimate, n_people=n_people, k=5, scale=protection.BIAS_PCT)
        step = step_of(protection.BIAS_PCT, band_people(n_people))
        noise = Decimal("1e-9")
        assert made.lower <= Decimal(estimate.lower) + noise
        assert Decimal(estimate.upper) - noise <= made.upper
        assert Decimal(estimate.lower) - made.lower < step + noise
        assert abs(made.value - Decimal(estimate.median)) <= step / 2 + noise
        assert made.lower <= made.value <= made.upper
        assert all(is_multiple(number, step) for number in (made.value, made.lower, made.upper))

    def test_known_answer(self):
        made = protection.publish_estimate(Estimate(10.31, 8.61, 12.49), n_people=12, k=5)
        assert (made.value, made.lower, made.upper) == (Decimal("10.5"), Decimal("8.5"), Decimal("12.5"))

    def test_a_float_that_prints_as_a_multiple_stays_where_it_is(self):
        # 8.2 in binary lies just below 8.2; flooring the binary value would print 8.0.
        made = protection.publish_estimate(Estimate(8.4, 8.2, 8.6), n_people=40, k=5)
        assert (made.lower, made.upper) == (Decimal("8.2"), Decimal("8.6"))

    def test_the_last_bits_of_a_float_do_not_move_a_published_number(self):
        made = protection.publish_estimate(Estimate(8.4, 0.1 + 0.1 + 8.0, 8.6 + 1e-13), n_people=40, k=5)
        assert (made.lower, made.upper) == (Decimal("8.2"), Decimal("8.6"))

    def test_k_minus_one_people_are_withheld_and_k_are_not(self):
        estimate = Estimate(10.0, 9.0, 11.0)
        assert protection.publish_estimate(estimate, n_people=6, k=7) is WITHHELD
        assert isinstance(protection.publish_estimate(estimate, n_people=7, k=7), Published)

    def test_the_step_comes_from_the_band_and_not_from_the_people(self):
        estimate = Estimate(10.317, 9.0, 11.0)
        made = {protection.publish_estimate(estimate, n_people=n, k=5) for n in range(10, 20)}
        assert len(made) == 1

    def test_a_coarser_step_may_be_asked_for_and_a_finer_one_may_not(self):
        estimate = Estimate(10.3, 9.1, 11.2)
        made = protection.publish_estimate(estimate, n_people=100, k=5, step=Decimal(1))
        assert (made.value, made.lower, made.upper) == (10, 9, 12)
        with pytest.raises(InvalidInput, match="never more finely"):
            protection.publish_estimate(estimate, n_people=10, k=5, step=Decimal("0.1"))

    def test_a_difference_takes_the_larger_of_the_two_steps(self):
        made = protection.publish_difference(Estimate(-1.13, -2.61, 0.22), n_people=(200, 12), k=5)
        assert (made.value, made.lower, made.upper) == (Decimal("-1.0"), Decimal("-3.0"), Decimal("0.5"))

    def test_shares_and_mard_stay_inside_what_they_can_be(self):
        share = protection.publish_estimate(Estimate(98.0, 93.0, 99.9), n_people=7, k=5, scale=protection.SHARE_PCT)
        assert (share.lower, share.upper) == (90, 100)
        assert protection.publish_estimate(Estimate(0.2, 0.01, 0.4), n_people=7, k=5).lower == 0

    @pytest.mark.parametrize("bad", [float("nan"), float("inf"), float("-inf")])
    def test_a_number_that_is_none_is_refused(self, bad):
        with pytest.raises(InvalidInput):
            protection.publish_estimate(Estimate(bad, bad, bad), n_people=20, k=5)
        with pytest.raises(InvalidInput):
            protection.publish_value(bad, n_people=20, k=5, scale=protection.BIAS_PCT)

    def test_an_estimate_out_of_order_is_refused(self):
        with pytest.raises(InvalidInput, match="within its interval"):
            protection.publish_estimate(Estimate(10.0, 11.0, 12.0), n_people=20, k=5)

    def test_no_threshold_under_the_floor(self):
        with pytest.raises(InvalidInput, match="fewer than 5"):
            protection.publish_estimate(Estimate(10.0, 9.0, 12.0), n_people=20, k=4)

    def test_zero_has_no_sign(self):
        made = protection.publish_value(-0.001, n_people=20, k=5, scale=protection.BIAS_PCT)
        assert str(made.value) in {"0", "0.0"}

    def test_ranges_go_outward(self):
        made = protection.publish_range(5.31, 18.02, n_people=40, k=5, scale=protection.MARD_PCT)
        assert (made.value, made.lower, made.upper) == (None, Decimal("5.2"), Decimal("18.2"))
        with pytest.raises(InvalidInput):
            protection.publish_range(3.0, 2.0, n_people=40, k=5, scale=protection.MARD_PCT)


class TestRoundedIntervalsKeepTheirPromise:
    @pytest.mark.parametrize("n_people", [10, 30, 100])
    def test_outward_ends_hold_the_truth_at_least_as_often_as_asked(self, n_people):
        """A mean of n people, known spread: outward >= 95 %; nearest falls short where steps are wide (own check)."""
        rng = np.random.default_rng(7)
        truth, spread, tries = 10.0, 2.2, 3000
        standard_error = spread / np.sqrt(n_people)
        step = float(step_of(MARD_PCT, band_people(n_people)))
        held_outward = held_nearest = 0
        # The truth is moved by part of a step each time, so that no place on the grid is favoured.
        for offset, draw in zip(rng.uniform(0, step, tries), rng.standard_normal(tries), strict=True):
            moved = truth + offset
            value = moved + standard_error * draw
            ends = value - 1.96 * standard_error, value + 1.96 * standard_error
            made = protection.publish_estimate(Estimate(value, *ends), n_people=n_people, k=5)
            held_outward += made.lower <= Decimal(moved) <= made.upper
            nearest = [step * round(end / step) for end in ends]
            held_nearest += nearest[0] <= moved <= nearest[1]
        assert held_outward / tries >= 0.955
        assert held_outward > held_nearest


class TestOtherFigures:
    def test_probabilities_are_coarse_and_bounded_at_the_ends(self):
        sure = protection.publish_probability(0.9993, n_people=40, k=5)
        assert (sure.value, sure.bound) == (Decimal("0.95"), "at_least")
        assert protection.publish_probability(0.02, n_people=12, k=5).bound == "at_most"
        assert protection.publish_probability(0.63, n_people=12, k=5).value == Decimal("0.6")
        assert protection.publish_probability(0.63, n_people=4, k=5) is WITHHELD
        with pytest.raises(InvalidInput):
            protection.publish_probability(1.2, n_people=12, k=5)

    @pytest.mark.parametrize(("n", "shown"), [(0, 0), (2, 0), (3, 5), (7, 5), (8, 10), (123, 125)])
    def test_counts_go_to_base_five(self, n, shown):
        # Rounding counts to base 5: Handbook on statistical disclosure control, 2nd edition, chapter 5.5.
        assert protection.publish_count(n).value == shown

    def test_a_negative_count_is_refused(self):
        with pytest.raises(InvalidInput):
            protection.publish_count(-1)

    def test_spreads_are_coarser_in_small_pools_and_zero_stays_zero(self):
        assert protection.publish_spread(0.137, n_people=30, k=5).value == Decimal("0.15")
        assert protection.publish_spread(0.137, n_people=300, k=5).value == Decimal("0.14")
        assert protection.publish_spread(0.0, n_people=30, k=5).value == 0
        assert protection.publish_spread(0.137, n_people=3, k=5) is WITHHELD
