"""Sums on the grid against Python's own whole numbers, sums rounded once against math.fsum."""

import math

import numpy as np
import pytest

from pooling.sealing.grid import exact_sums, grid_sums, on_grid, squares

STARTS = np.array([0, 1, 3, 10, 11])


def rows(scale):
    rng = np.random.default_rng(8)
    return scale * rng.standard_normal((3, 40)) * np.exp(rng.normal(0, 3, (3, 40)))


def runs(row):
    return [row[start:end].tolist() for start, end in zip(STARTS, [*STARTS[1:], row.size], strict=True)]


@pytest.mark.parametrize("scale", [1e-6, 1.0, 1e9, 1e30])
@pytest.mark.parametrize("bits", [2, 40, 60])
def test_grid_sums_are_those_of_pythons_integers(scale, bits):
    values = rows(scale)
    expected = [[sum(round(value * 2.0**bits) for value in run) for run in runs(row)] for row in values]
    assert grid_sums(values, STARTS, bits) == expected
    assert all(type(total) is int for row in grid_sums(values, STARTS, bits) for total in row)


def test_halves_go_to_the_even_neighbour_as_in_python():
    halves = np.arange(-9, 10) / 2
    assert on_grid(halves, 0).tolist() == [round(half) for half in halves.tolist()]


def test_what_is_no_number_is_refused():
    with pytest.raises(ValueError, match="NaN"):
        on_grid(np.array([1.0, np.nan]), 40)


def test_exact_sums_are_rounded_once_whatever_the_order():
    values = rows(1.0)
    assert exact_sums(values, STARTS).tolist() == [[math.fsum(run) for run in runs(row)] for row in values]
    stacked = exact_sums(np.stack([values, -values]), STARTS)
    assert np.array_equal(stacked[0], -stacked[1])


def test_squares_are_pythons_powers():
    values = np.random.default_rng(9).random((2, 20_000))
    found = squares(values)
    assert found.ravel().tolist() == [value**2 for value in values.ravel().tolist()]
    assert (found != values * values).any()


def test_nothing_sums_to_nothing():
    none = np.empty((6, 0))
    assert exact_sums(none, np.empty(0, dtype=int)).shape == squares(none).shape == (6, 0)
