import numpy as np
import pytest

from pooling.hierarchy.results import Estimate


def test_an_estimate_is_the_median_with_the_central_95_percent():
    draws = np.linspace(0, 1, 2001)
    found = Estimate.of(draws)
    assert (found.lower, found.median, found.upper) == pytest.approx((0.025, 0.5, 0.975))


def test_one_absurd_draw_moves_nothing():
    draws = np.append(np.linspace(0, 1, 2001), 1e12)
    assert Estimate.of(draws).upper < 1
