import numpy as np
import pytest

from pooling.importing.types import ABOVE, BELOW, INSERTION, NUMBER, ROLES, Series
from pooling.vocabulary import MARKS


def test_marks_are_those_of_a_packed_wear():
    assert NUMBER == 0
    assert (MARKS[BELOW - 1], MARKS[ABOVE - 1]) == ("below", "above")


def test_roles_are_told_apart():
    assert len(set(ROLES)) == len(ROLES)
    assert np.datetime64(0, "s") == INSERTION


def test_a_series_is_counted_and_closed():
    series = Series(np.array([0, 60], "datetime64[s]"), np.array([98.0, 99]), np.zeros(2, np.int8), np.array([2, 3]))
    assert series.n_readings == 2
    for column in (series.time, series.mg_dl, series.mark, series.line):
        with pytest.raises(ValueError, match="read-only"):
            column[0] = column[1]
