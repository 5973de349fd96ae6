"""What a test would show is what the plan that is then drawn says it shows."""

import numpy as np
import pytest

from pooling.planning import PlanInvalid, make_plan, outlook
from tests.pooling.planning.requests import asked


@pytest.mark.parametrize("changes", [{}, {"pairs_per_wear": 12}, {"daily_cap": 3}, {"wears_per_site": 4}])
def test_the_plan_keeps_what_the_outlook_said(changes):
    request = asked(**changes)
    seen = outlook(request, rated_life_days=10)
    made = make_plan(request, np.random.default_rng(1), rated_life_days=10)
    assert (seen.can_show, seen.notes, seen.pairs_per_wear) == (made.can_show, made.notes, made.pairs_per_wear)
    assert seen.n_wears == len(made.wears)
    assert seen.n_days_at_least <= made.n_days


def test_steps_hold_the_number_asked_and_gain_ever_less():
    seen = outlook(asked(pairs_per_wear=12), rated_life_days=10)
    numbers = [step.pairs_per_wear for step in seen.steps]
    assert numbers == sorted({8, 12, seen.can_show.enough_pairs_per_wear, *numbers})
    shown = [step.seen_4_of_5_points for step in seen.steps]
    assert shown == sorted(shown, reverse=True)
    of_enough = {step.pairs_per_wear: step.margin_points for step in seen.steps}
    enough = seen.can_show.enough_pairs_per_wear
    assert of_enough[2 * enough] > 0.88 * of_enough[enough]
    assert of_enough[enough] < 0.88 * of_enough[8]


def test_what_cannot_be_planned_has_no_outlook():
    with pytest.raises(PlanInvalid):
        outlook(asked(pairs_per_wear=190), rated_life_days=10)
