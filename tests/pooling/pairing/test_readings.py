import numpy as np
import pytest

from pooling.importing.types import Series
from pooling.pairing.readings import (
    plausible,
    readings_of,
    repeats_the_row_before,
    shares_the_second_before,
    shown_in,
)
from tests.pooling.pairing.series import START, series


def test_readings_come_in_one_order_whatever_the_rows_had():
    given = series((10, 120), (5, 100), (10, 90), (5, "below"))
    rows = np.array([3, 1, 0, 2])
    shuffled = Series(given.time[rows], given.mg_dl[rows], given.mark[rows], given.line[rows])
    one, other = readings_of(given, start=START), readings_of(shuffled, start=START)
    assert one.second.tolist() == other.second.tolist() == [300, 300, 600, 600]
    np.testing.assert_array_equal(one.mg_dl, other.mg_dl)
    assert one.line.tolist() == other.line.tolist() == [3, 5, 4, 2]


def test_a_row_exported_twice_is_told_from_two_readings_of_one_second():
    found = readings_of(series((5, 100), (5, 100), (5, 101), (6, "above"), (6, "above")), start=START)
    assert repeats_the_row_before(found).tolist() == [False, True, False, False, True]
    assert shares_the_second_before(found).tolist() == [False, True, True, False, True]


def test_plausible_is_what_a_record_may_hold():
    found = readings_of(series((0, 19.9), (1, 20), (2, 600), (3, 601), (4, "below")), start=START)
    assert plausible(found, "mg/dL").tolist() == [False, True, True, False, True]


@pytest.mark.parametrize("typed", [1.1, 3.9, 5.6, 10.0, 33.3])
def test_a_reading_typed_in_mmol_comes_back_as_it_was_typed(typed):
    assert shown_in(np.array([typed * 18.0156]), "mmol/L").tolist() == [typed]


def test_spacing_is_the_median_and_nothing_below_two_readings():
    assert readings_of(series((0, 100), (5, 100), (10, 100), (60, 100)), start=START).spacing_min == 5
    assert readings_of(series((0, 100)), start=START).spacing_min == float("inf")


def test_no_reading_shows():
    found = readings_of(series((0, 123)), start=START)
    assert "123" not in repr(found)
