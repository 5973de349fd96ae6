import numpy as np
import pytest

from pooling.pairing.rate import rates
from pooling.pairing.readings import readings_of
from tests.pooling.pairing.series import START, series


def _rate(readings, at_min, before_only=False):
    return rates(np.array([round(60 * at_min)]), readings_of(series(*readings), start=START), before_only=before_only)[
        0
    ]


@pytest.mark.parametrize("spacing_min", [1, 5, 15])
@pytest.mark.parametrize("before_only", [False, True])
def test_a_straight_line_has_its_own_slope(spacing_min, before_only):
    line = [(minute, 100 + 1.5 * minute) for minute in range(0, 61, spacing_min)]
    assert _rate(line, 42, before_only) == pytest.approx(1.5)


def test_the_slope_is_that_of_least_squares():
    readings = [(20, 100), (25, 112), (30, 109)]
    assert _rate(readings, 25) == pytest.approx(np.polyfit([20, 25, 30], [100, 112, 109], 1)[0])


def test_later_readings_do_not_speak_where_only_earlier_ones_may():
    level_then_steep = [(minute, 100 + max(0, minute - 30) * 4) for minute in range(0, 61, 5)]
    assert _rate(level_then_steep, 30, before_only=True) == pytest.approx(0)
    assert _rate(level_then_steep, 30) > 1


@pytest.mark.parametrize(
    "readings",
    [
        [(25, 100), (30, "below"), (35, 90)],
        [(29.5, 100), (30, 103)],
        [(0, 100), (5, 101), (300, 100), (305, 100)],
        [(25, 100), (30, 400), (35, 590)],
        [(30, 100)],
        [],
    ],
    ids=[
        "out of range beside it",
        "a minute is too short",
        "a gap",
        "faster than a record holds",
        "one reading",
        "none",
    ],
)
def test_no_rate_where_the_trace_does_not_give_one(readings):
    assert np.isnan(_rate(readings, 30))
