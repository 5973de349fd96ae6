"""Places moved toward each other: eight schools, and the ends of the rule."""

import numpy as np
import pytest

from pooling.parts.contrasts import Measured
from pooling.parts.exchange import exchangeable

# Rubin (1981), as in Gelman et al., Bayesian Data Analysis, 3rd ed., table 5.2 (from memory): effects, standard errors.
EFFECTS = (28, 8, -3, 7, -1, 1, 18, 12)
ERRORS = (15, 10, 16, 11, 9, 11, 10, 18)
# Table 5.3 there (from memory): posterior medians of the eight schools under a flat prior on the sd.
MEDIANS = (10, 8, 7, 8, 5, 6, 10, 8)


def draws(measured, scale, n=20_000):
    return exchangeable(measured, scale, np.random.default_rng(3), draws=n)


def test_eight_schools_come_out_as_published():
    schools = [Measured(effect, error**2) for effect, error in zip(EFFECTS, ERRORS, strict=True)]
    found = np.median(draws(schools, 25.0), axis=0)
    assert np.abs(found - MEDIANS).max() < 1.2
    assert list(np.argsort(found)[-2:]) in ([0, 6], [6, 0])


def test_places_that_are_known_well_keep_what_was_measured():
    found = draws([Measured(0.0, 1e-6), Measured(5.0, 1e-6), Measured(9.0, 1e-6)], 3.0)
    assert found.mean(axis=0) == pytest.approx([0, 5, 9], abs=0.01)


def test_where_nothing_differs_all_meet_in_the_weighted_mean():
    measured = [Measured(1.0, 1.0), Measured(2.0, 4.0)]
    assert np.median(draws(measured, 1e-6), axis=0) == pytest.approx([1.2, 1.2], abs=0.03)


def test_a_single_place_keeps_its_own():
    found = draws([Measured(2.0, 0.25)], 1.0)
    assert (found.mean(), found.std()) == (pytest.approx(2.0, abs=0.02), pytest.approx(0.5, abs=0.02))
