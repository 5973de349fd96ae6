"""A small slice of `python -m tests.calibration --outcome`: intervals hold the truth about as often as they say."""

import pytest

from pooling.hierarchy import FitRules
from tests.calibration import wearing

RULES = FitRules(draws=300)


@pytest.mark.parametrize(
    ("outcome", "figure"), [("survival", "on at day 10"), ("skin", "reaction"), ("ratings", "rating")]
)
def test_intervals_hold_the_truth_and_medians_beat_plain_means(outcome, figure):
    """Ten pools of about five sites: far from enough to tell 95 % from 90 %, enough to see limits that do not hold."""
    scores = wearing.run(outcome, 10, 12, (30, 60), 1.0, tied=True, rules=RULES)
    score = scores[figure]
    covered, _ = score.coverage()
    assert covered >= 0.8
    own, plain = (sum((part**2).sum() for part in parts) for parts in (score.errors, score.plain))
    assert own < plain
