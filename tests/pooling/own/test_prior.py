"""What an own estimate starts from: the cell, or its parents with what cells differ by, or published studies."""

import math

import numpy as np
import pytest

from pooling.hierarchy.closedforms import Mixture
from pooling.own.prior import prior_of
from pooling.starter import SPREADS, STUDIES, sensor_variance, site_variance, starter_level
from tests.pooling.own.documents import document, document_of_one_model, document_of_one_site


def test_spreads_and_shape_are_the_published_ones():
    prior = prior_of(document())
    assert prior.basis == "edition"
    assert prior.kurtosis == 2.0
    assert prior.spreads["dispersion"].wear == 0.25
    assert prior.spreads["location"].person == pytest.approx(math.sqrt(0.05**2 - 0.02**2))
    assert prior.cites("calf", None) == ()


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
    # Somebody who names no sensor model wears one all the same.
    assert own == by_model
    assert own.off == pytest.approx({"location": 0.02**2, "dispersion": 0.2**2})
    assert near.told_of == "other sites of the thigh"
    # One site stands in for another: both lie off the middle of all sites.
    assert near.off == pytest.approx({"location": 0.02**2 + 2 * 0.03**2, "dispersion": 0.2**2 + 2 * 0.3**2})
    assert near.log_variance_sd == own.log_variance_sd
    # 20 people at the calf have a row of their own, but not in the model block.
    assert far.told_of == "all sites together"
    assert far.mard_pct == pytest.approx((100 * 9.1 + 30 * 10.4) / 130, abs=0.1)
    squared_shares = (100**2 + 30**2) / 130**2
    assert far.off["dispersion"] == pytest.approx(0.2**2 + (1 + squared_shares) * 0.3**2)


@pytest.mark.parametrize("asked", ["demo-b10", None])
def test_another_model_than_the_only_one_may_differ_as_much_as_sensors_of_studies_do(asked):
    prior = prior_of(document_of_one_model())
    known, other = (prior.level("upper_arm.back", model) for model in ("demo-a14", asked))
    assert known.told_of == "this site and sensor model"
    assert set(known.off.values()) == {0.0}
    assert other.off == pytest.approx(sensor_variance())
    assert prior.cites("upper_arm.back", "demo-a14") == ()
    assert prior.cites("upper_arm.back", asked) == tuple(study.cite for study in STUDIES)


@pytest.mark.parametrize("asked", ["thigh.front", "upper_arm.outer"])
def test_another_site_than_the_only_one_may_differ_as_much_as_sites_of_one_study_do(asked):
    prior = prior_of(document_of_one_site())
    known, other = (prior.level(site, None) for site in ("upper_arm.back", asked))
    assert known.off == pytest.approx({"location": 0.02**2, "dispersion": 0.2**2})
    assert other.off == pytest.approx(
        {channel: known.off[channel] + 2 * variance for channel, variance in site_variance().items()}
    )
    assert prior.cites("upper_arm.back", None) == ()
    assert prior.cites(asked, None) == tuple(study.cite for study in STUDIES)


def test_the_only_model_is_the_same_sensor_at_a_site_that_is_not_told():
    prior = prior_of(document_of_one_model())
    same, another = (prior.level("calf", model) for model in ("demo-a14", "demo-b10"))
    for channel, variance in sensor_variance().items():
        assert another.off[channel] - same.off[channel] == pytest.approx(variance)
    assert prior.cites("calf", "demo-a14") == ()


@pytest.mark.parametrize("whatever", [None, {}, {"model": {}}, {"model": {"cells": [], "spreads": {}}}])
def test_without_a_model_block_published_studies_stand_in_and_are_named(whatever):
    prior = prior_of(whatever)
    assert (prior.basis, prior.spreads) == ("starter", SPREADS)
    assert prior.level("calf", "demo-a14").told_of == "published studies of other sites"
    assert len(prior.cites("upper_arm.back", None)) == 7


def test_a_starter_level_gives_back_the_mard_that_was_published():
    """In the mean over people, wears and sensors, what is not known of the site among it."""
    prior, known = prior_of(None), starter_level("buttock")
    level = prior.level("buttock", None)
    location, dispersion = (
        sum(sd**2 for sd in (own.person, own.person_cell, own.wear)) + sensor_variance()[channel]
        for channel, own in SPREADS.items()
    )
    law = Mixture(
        np.array(level.location),
        np.array(location),
        np.array(level.log_variance),
        np.array(dispersion + (2 * known.sd_log) ** 2),
        2.0,
    )
    assert 100 * law.mean_relative_difference() == pytest.approx(known.mard_pct)
