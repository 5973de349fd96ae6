"""The own estimate between its two ends: the pool's own row without wears, the person's own readings with many."""

from dataclasses import replace

import numpy as np
import pytest

from pooling.edition import site_row
from pooling.hierarchy.closedforms import Mixture
from pooling.own import OwnWear, predict, prior_of
from pooling.own.estimate import usable
from pooling.planning.precision import VARIANCE_RATIO
from tests.pooling.own.documents import document

ARM, THIGH = "upper_arm.back", "thigh.front"


def wear(site=THIGH, model="demo-a14", *, n=40, mean=0.0, sd=0.1):
    return OwnWear(site, model, n, mean, (n - 1) * sd**2)


def test_without_wears_it_is_the_row_of_the_pool():
    row = site_row(document(), ARM, "demo-a14")
    found = predict([], prior_of(document()), site=ARM, sensor_model="demo-a14")
    assert 100 * found.person_mard.mean() == pytest.approx(row["mard_pct"]["value"])
    assert 100 * found.person_within_15.mean() == pytest.approx(row["within_15_15_pct"]["value"])
    assert found.own_share_frac == (0.0, 0.0)


def test_a_cell_that_is_not_told_is_about_the_row_that_stands_in_for_it():
    """A little above it in the mean: a sensor that reads off does worse by more than others do better."""
    row = site_row(document(), THIGH)
    found = predict([], prior_of(document()), site=THIGH, sensor_model=None)
    assert 1 < 100 * found.person_mard.mean() / row["mard_pct"]["value"] < 1.04


def test_many_wears_of_a_sensor_that_nothing_is_known_of_say_what_it_does():
    """Sixty wears of log sd 0.1 about 0: what sensors of studies differ by stays in no level."""
    wears = [wear(ARM, "demo-b10", n=400, mean=0.0, sd=0.1)] * 60
    prior = prior_of(None)
    of_location, of_dispersion = (np.array(prior.spreads[name].wear ** 2) for name in ("location", "dispersion"))
    seen = Mixture(np.array(0.0), of_location, np.array(2 * np.log(0.1)), of_dispersion, prior.kurtosis)
    found = predict(wears, prior, site=ARM, sensor_model="demo-b10")
    assert found.person_mard.mean() == pytest.approx(float(seen.mean_relative_difference()), rel=0.02)


def test_with_many_long_wears_it_is_what_the_person_saw():
    prior = prior_of(document())
    found = predict([wear(n=400, mean=0.05, sd=0.14)] * 60, prior, site=THIGH, sensor_model=None)
    assert np.median(found.person_bias) == pytest.approx(np.expm1(0.05), abs=0.006)
    steady = predict([wear(n=400, mean=0.05, sd=0.07)] * 60, prior, site=THIGH, sensor_model=None)
    assert found.person_mard.mean() / steady.person_mard.mean() == pytest.approx(1.7, abs=0.15)
    assert found.own_share_frac[0] > 0.9


def test_each_wear_more_settles_more_and_narrows_the_limits():
    prior = prior_of(document())
    before = None
    for n_wears in range(5):
        found = predict([wear()] * n_wears, prior, site=THIGH, sensor_model=None)
        width = np.ptp(np.quantile(found.person_mard, (0.025, 0.975)))
        if before is not None:
            assert width < before[0]
            assert found.own_share_frac[0] > before[1]
        before = width, found.own_share_frac[0]
    # A new wear always scatters more than the person's average does.
    assert np.ptp(np.quantile(found.wear_mard, (0.1, 0.9))) > np.ptp(np.quantile(found.person_mard, (0.1, 0.9)))


@pytest.mark.parametrize(("n_wears", "more"), [(0, 1.11), (3, 1.32)])
def test_what_thirty_fingersticks_add_to_the_range_of_a_new_wear(n_wears, more):
    """Sd of the MARD seen over that of very many fingersticks; variance of a pair as seal version 1 assumes it."""
    found = predict([wear(ARM)] * n_wears, prior_of(None), site=ARM, sensor_model="demo-a14").wear_mard
    of_readings = (VARIANCE_RATIO * found**2).mean() / 30
    assert (1 + of_readings / found.var()) ** 0.5 == pytest.approx(more, abs=0.06)


def test_wears_at_another_site_tell_less_than_wears_here_and_more_than_none():
    prior = prior_of(document())
    here, there, none = (
        predict(wears, prior, site=THIGH, sensor_model=None).own_share_frac[0]
        for wears in ([wear()] * 2, [wear(ARM)] * 2, [])
    )
    assert here > there > none


def test_a_short_wear_that_looks_steady_does_not_outweigh_a_long_one():
    """Eight lucky readings at +20 % beside two hundred ordinary ones at -5 %."""
    lucky, long = wear(n=8, mean=0.18, sd=0.004), wear(n=200, mean=-0.05, sd=0.11)
    found = predict([lucky, long], prior_of(document()), site=THIGH, sensor_model=None)
    assert np.median(found.person_bias) < 0.05


def test_wears_with_too_few_pairs_are_passed_over():
    prior = prior_of(document())
    few = [wear(n=7), OwnWear(THIGH, "demo-a14", 20, 0.0, 0.0)]
    assert usable(few, prior, None) == []
    bare = predict([], prior, site=THIGH, sensor_model=None)
    assert np.array_equal(predict(few, prior, site=THIGH, sensor_model=None).wear_mard, bare.wear_mard)


def test_before_an_edition_only_wears_of_the_same_sensor_tell_of_it():
    prior = prior_of(None)
    wears = [wear(ARM, "demo-a14"), wear(ARM, "demo-b10")]
    assert usable(wears, prior, "demo-a14") == wears[:1]
    assert usable(wears, prior, None) == usable(wears, prior_of(document()), "demo-a14") == wears
    # Studies differ by their sensors, so a wear of the same sensor at another site tells much of this one.
    other = replace(prior, sensor_variance={"location": 0.0, "dispersion": 0.0})
    told, untold = (
        predict(wears, one, site=THIGH, sensor_model="demo-a14").own_share_frac[0] for one in (prior, other)
    )
    assert told > 2 * untold


def test_the_order_of_wears_does_not_matter():
    wears = [wear(mean=0.02), wear(ARM, sd=0.14), wear("calf", n=12)]
    prior = prior_of(document())
    one = predict(wears, prior, site=THIGH, sensor_model="demo-a14")
    other = predict(wears[::-1], prior, site=THIGH, sensor_model="demo-a14")
    assert one.person_mard == pytest.approx(other.person_mard, rel=1e-12)
