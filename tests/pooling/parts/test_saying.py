"""What stood behind a displayed value."""

import numpy as np
import pytest

from pooling.parts import References, fingerstick_range


def test_the_law_has_the_shares_it_was_made_from():
    law = References.of_shares(4.0, 27.0)
    drawn = np.exp(np.random.default_rng(1).normal(law.centre_log, law.sd_log, 400_000))
    assert (100 * (drawn < 70).mean(), 100 * (drawn > 180).mean()) == pytest.approx((4, 27), abs=0.2)


@pytest.mark.parametrize(("low", "high"), [(0, 20), (5, 0), (60, 50), (100, 0)])
def test_shares_that_no_law_has_are_none(low, high):
    assert References.of_shares(low, high) is None


@pytest.mark.parametrize("shown", [60, 100, 250])
def test_the_range_holds_eighty_of_a_hundred_fingersticks_behind_a_reading(shown):
    """Against draws: fingersticks by the law, readings about them, those kept that show about the value."""
    rng, law = np.random.default_rng(5), References.of_shares(6.0, 25.0)
    fingersticks = np.exp(rng.normal(law.centre_log, law.sd_log, 6_000_000))
    readings = fingersticks * np.exp(rng.normal(0.03, 0.13, fingersticks.size))
    behind = fingersticks[np.abs(readings - shown) < 0.5]
    ends = fingerstick_range(shown, location=0.03, reading_sd_log=0.13, references=law)
    assert np.quantile(behind, (0.1, 0.9)) == pytest.approx(ends, rel=0.02)


def test_a_sensor_without_scatter_is_believed():
    law = References.of_shares(5.0, 25.0)
    assert fingerstick_range(80, location=0.0, reading_sd_log=1e-9, references=law) == pytest.approx((80, 80))
