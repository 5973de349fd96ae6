"""Shares, steps and parts: what a reader can count from them is k people or nobody knows."""

from dataclasses import dataclass
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pooling.protection import WITHHELD, Published, band_people, publish_falling, publish_share, publish_split, step_of
from pooling.protection.figures import SHARE_PCT

SIZES = (10, 15, 20, 28, 30, 47, 50, 99, 100, 240, 1000)
ENDS = ("adhesive", "body", "device", "other")


@dataclass(frozen=True)
class Estimate:
    median: float
    lower: float
    upper: float


def at(share_pct):
    return Estimate(share_pct, max(share_pct - 7.3, 0.0), min(share_pct + 6.1, 100.0))


def is_told(figure):
    return isinstance(figure, Published) and figure.bound is None


def counts(low_pct, high_pct, n_people):
    """All counts of people that fit a share between two numbers and the band of people: what a reader can work out."""
    band = band_people(n_people)
    sizes = range(band.at_least, min(band.below or 10**9, 4 * band.at_least))
    return [
        (count, size)
        for size in sizes
        for count in range(size + 1)
        if float(low_pct) <= 100 * count / size <= float(high_pct)
    ]


class TestShare:
    @given(st.integers(0, 100), st.sampled_from(SIZES[:8]), st.sampled_from([5, 10]))
    def test_every_count_that_fits_a_printed_share_is_k_on_both_sides(self, share, n_people, k):
        figure = publish_share(at(share), n_people=n_people, k=k)
        if is_told(figure):
            half = step_of(SHARE_PCT, band_people(n_people)) / 2
            for count, size in counts(figure.value - half, figure.value + half, n_people):
                assert k <= count <= size - k

    @given(st.floats(0, 100), st.sampled_from(SIZES))
    def test_a_bound_is_true_and_made_of_the_band_alone(self, share, n_people):
        figure = publish_share(at(share), n_people=n_people, k=5)
        if isinstance(figure, Published) and figure.bound:
            assert (figure.lower, figure.upper) == (None, None)
            half = float(step_of(SHARE_PCT, band_people(n_people))) / 2 + 1e-9
            number = float(figure.value)
            assert share <= number + half if figure.bound == "at_most" else share >= number - half
            ends = {publish_share(at(end), n_people=n_people, k=5).value for end in (0.0, 100.0)}
            assert figure.value in ends

    def test_few_people_and_too_few_for_two_sides(self):
        assert publish_share(at(50), n_people=4, k=5) is WITHHELD
        assert publish_share(at(50), n_people=9, k=5) is WITHHELD
        assert publish_share(at(50), n_people=19, k=10) is WITHHELD
        assert publish_share(at(90), n_people=12, k=5).bound == "at_least"

    @pytest.mark.parametrize(("share", "told"), [(17, False), (18, True), (82, True), (83, False)])
    def test_at_thirty_people_a_share_is_told_from_five_people_and_the_rounding_on_either_side(self, share, told):
        assert is_told(publish_share(at(share), n_people=30, k=5)) is told

    def test_few_people_have_no_interval(self):
        small, full = (publish_share(at(60), n_people=n, k=5) for n in (29, 30))
        assert (small.lower, small.upper) == (None, None)
        assert small.value == full.value == 60
        assert full.lower < 60 < full.upper

    def test_nobody_and_a_few_look_alike(self):
        assert len({publish_share(at(share), n_people=60, k=5) for share in (0.0, 1.0, 4.0, 9.0)}) == 1


falling_shares = st.lists(st.integers(0, 100), min_size=5, max_size=5).map(lambda own: sorted(own, reverse=True))


class TestFalling:
    def publish(self, shares, n_people, k=5):
        *days, rated = shares
        last = publish_share(at(rated), n_people=n_people, k=k)
        return publish_falling(
            {d: at(s) for d, s in zip((3, 7, 10, 14), days, strict=True)}, last, n_people=n_people, k=k
        ), last

    @given(falling_shares, st.sampled_from(SIZES))
    def test_in_every_printed_step_at_least_k_people_left(self, shares, n_people):
        days, last = self.publish(shares, n_people)
        shown = [100.0, *(float(f.value) for f in days.values() if is_told(f))]
        if is_told(last):
            shown.append(float(last.value))
        slack = float(step_of(SHARE_PCT, band_people(n_people)))
        for number, (before, after) in enumerate(pairwise(shown)):
            off = slack if number else slack / 2
            assert (before - after - off) * band_people(n_people).at_least >= 500 - 1e-9

    @given(falling_shares, st.sampled_from(SIZES))
    def test_bounds_say_what_the_printed_days_say(self, shares, n_people):
        days, last = self.publish(shares, n_people)
        printed = {float(f.value) for f in (*days.values(), last) if isinstance(f, Published)}
        for day, figure in days.items():
            if isinstance(figure, Published) and figure.bound:
                assert figure.bound == "at_least"
                later = [f for when, f in days.items() if when > day and is_told(f)] + [last]
                assert figure.value == later[0].value
                assert float(figure.value) in printed

    def test_a_step_of_nobody_and_one_of_a_few_look_alike(self):
        assert self.publish([100, 100, 100, 90, 70], 60) == self.publish([100, 98, 96, 90, 70], 60)
        assert [f.bound for f in self.publish([98, 97, 96, 83, 70], 60)[0].values()] == [*["at_least"] * 3, None]

    def test_where_the_end_is_hidden_so_are_the_days(self):
        assert set(self.publish([90, 80, 70, 60, 50], 9)[0].values()) == {WITHHELD}
        assert set(self.publish([90, 80, 70, 60, 1], 60)[0].values()) == {WITHHELD}


parts = st.lists(st.integers(0, 25), min_size=4, max_size=4)


class TestSplit:
    def publish(self, own, n_people, k=5):
        rest = publish_share(at(100 - sum(own)), n_people=n_people, k=k)
        made = {name: at(share) for name, share in zip(ENDS, own, strict=True)}
        return publish_split(made, rest, n_people=n_people, k=k), rest

    @given(parts, st.sampled_from(SIZES))
    def test_what_is_left_by_taking_away_is_nobody_held_back_or_k_people(self, own, n_people):
        made, rest = self.publish(own, n_people)
        shown = [float(f.value) for f in made.values() if is_told(f)]
        if not is_told(rest) or not shown or len(shown) == 4:
            return
        left = 100 - float(rest.value) - sum(shown)
        slack = float(step_of(SHARE_PCT, band_people(n_people))) / 2 * (len(shown) + 1)
        assert (left - slack) * band_people(n_people).at_least >= 500 - 1e-9

    @given(parts, st.sampled_from(SIZES))
    def test_bounds_hold_and_are_one_number(self, own, n_people):
        made, _ = self.publish(own, n_people)
        held = [(f, share) for f, share in zip(made.values(), own, strict=True) if isinstance(f, Published) and f.bound]
        assert len({f for f, _ in held}) <= 1
        half = float(step_of(SHARE_PCT, band_people(n_people))) / 2
        assert all(share <= float(f.value) + half + 1e-9 for f, share in held)

    def test_a_second_part_is_held_back_for_the_first(self):
        made, _ = self.publish([20, 10, 2, 12], 60)
        assert [is_told(made[name]) for name in ENDS] == [True, False, False, True]

    def test_where_few_came_off_early_no_part_says_more(self):
        made, rest = self.publish([3, 1, 0, 1], 60)
        assert rest.bound == "at_least"
        assert {float(f.value) for f in made.values()} == {100 - float(rest.value)}

    def test_where_the_rest_is_hidden_so_are_the_parts(self):
        assert set(self.publish([10, 10, 10, 10], 9)[0].values()) == {WITHHELD}
