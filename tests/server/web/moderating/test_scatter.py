from dataclasses import dataclass

import pytest

from server.web.moderating.scatter import MARGIN, SIDE, scatter


@dataclass
class Pair:
    reference: float
    sensor: float | None


@pytest.mark.parametrize(("unit", "middle"), [("mg/dL", 200.0), ("mmol/L", 11.0)])
def test_equal_readings_lie_on_the_line(unit, middle):
    drawn = scatter([Pair(middle, middle)], unit)
    assert (drawn.dots[0].x, drawn.dots[0].y) == (SIDE / 2, SIDE / 2)


def test_a_higher_sensor_lies_higher_and_beyond_the_top_on_the_edge():
    low, high, beyond = scatter([Pair(100, 80), Pair(100, 120), Pair(500, 500)], "mg/dL").dots
    assert high.y < low.y
    assert (beyond.x, beyond.y) == (SIDE - MARGIN, MARGIN)


def test_pairs_on_each_other_are_one_larger_dot_and_marks_are_none():
    drawn = scatter([Pair(100, 100)] * 4 + [Pair(60, None)], "mg/dL")
    assert [(dot.n_pairs, dot.radius) for dot in drawn.dots] == [(4, 6.0)]
