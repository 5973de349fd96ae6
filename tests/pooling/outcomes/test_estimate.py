"""Everything that was fitted becomes levels, and nothing else does."""

import numpy as np
import pytest

from pooling.hierarchy import FitRules, fit_channel
from pooling.outcomes import Outcomes, estimate
from tests.pooling.hierarchy.outcomes import sealed_days, sealed_ratings

RULES = FitRules(draws=200)


def test_each_family_fills_its_own_part():
    records = sealed_days(0.8) + sealed_ratings([6, 7, 8] * 5)
    channels = ("on_rated", "off_adhesive", "off_device", "off_body", "off_other", "ease")
    fits = {channel: fit_channel(records, channel, RULES, np.random.default_rng(1)) for channel in channels}
    found = estimate(records, fits, rated_life_days={"demo-a14": 14})
    assert {row.place for row in found.survival} == {"calf", "chest"}
    assert found.survival[0].on_pct == {}
    assert list(found.ratings) == ["ease"]
    assert found.ratings["ease"][0].estimate.median == pytest.approx(7, abs=0.6)
    assert found.reaction_pct == found.far_per_1000 == ()


def test_nothing_fitted_is_nothing():
    assert estimate(sealed_days(0.8), {}, rated_life_days={}) == Outcomes()
