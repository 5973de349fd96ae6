"""What an own estimate starts from: the cell, or its parents with what cells differ by, or published studies."""

import math

import numpy as np
import pytest

from pooling.hierarchy.closedforms import Mixture
from pooling.own.prior import prior_of
from pooling.starter import SPREADS, starter_level
from tests.pooling.own.documents import document


def test_spreads_and_shape_are_the_published_ones():
    prior = prior_of(document())
    assert prior.basis == "edition"
    assert prior.kurtosis == 2.0
    assert prior.spreads["dispersion"].wear == 0.25
    assert prior.spreads["location"].person == pytest.approx(math.sqrt(0.05**2 - 0.02**2))
    assert prior.cites("calf") == ()


def test_a_cell_of_thirty_people_speaks_for_itself():
    level = prior_of(document()).level("upper_arm.back", "demo-a14")
    assert (level.mard_pct, level.told_of) == (8.7, "this site and sensor model")


def test_what_a_cell_does_not_tell_its_parents_do_with_wider_limits():
    prior = prior_of(document())
    own = prior.level("thigh.front", None)
    by_model = prior.level("thigh.front", "demo-a14")
    near = prior.level("thigh.outer", None)
    far = prior.level("calf", None)
    assert own.told_of == by_model.told_of == "this site, over all sensor models"
    assert by_model.location_sd == pytest.approx(math.hypot(own.location_sd, 0.02))
    assert near.told_of == "other sites of the thigh"
    assert near.log_variance_sd == pytest.approx(math.hypot(own.log_variance_sd, 0.3))
    # 20 people at the calf have a row of their own, but not in the model block.
    assert far.told_of == "all sites together"
    assert far.mard_pct == pytest.approx((100 * 9.1 + 30 * 10.4) / 130, abs=0.1)


@pytest.mark.parametrize("whatever", [None, {}, {"model": {}}, {"model": {"cells": [], "spreads": {}}}])
def test_without_a_model_block_published_studies_stand_in_and_are_named(whatever):
    prior = prior_of(whatever)
    assert (prior.basis, prior.spreads) == ("starter", SPREADS)
    assert prior.level("calf", "demo-a14").told_of == "published studies of other sites"
    assert len(prior.cites("upper_arm.back")) == 7


def test_a_starter_level_gives_back_the_mard_that_was_published():
    level = prior_of(None).level("buttock", None)
    location, dispersion = SPREADS["location"], SPREADS["dispersion"]
    law = Mixture(
        np.array(level.location),
        np.array(sum(sd**2 for sd in (location.person, location.person_cell, location.wear))),
        np.array(level.log_variance),
        np.array(sum(sd**2 for sd in (dispersion.person, dispersion.person_cell, dispersion.wear))),
        2.0,
    )
    assert 100 * law.mean_relative_difference() == pytest.approx(starter_level("buttock").mard_pct)
