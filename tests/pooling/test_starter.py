"""Figures of published studies: what follows from them by plain arithmetic, and that they agree with another source."""

import math

import numpy as np
import pytest

from pooling.hierarchy.closedforms import Mixture
from pooling.starter import KURTOSIS, SPREADS, STUDIES, between_sensors_sd_log, between_sites_sd_log, starter_level
from pooling.vocabulary import SITES


def test_the_level_of_a_site_is_the_geometric_mean_of_its_studies():
    arm = [study.mard_pct["upper_arm.back"] for study in STUDIES if "upper_arm.back" in study.mard_pct]
    level = starter_level("upper_arm.back")
    assert level.mard_pct == pytest.approx(math.prod(arm) ** (1 / len(arm)))
    assert len(level.cites) == len(arm) == 6


def test_between_studies_the_spread_is_that_of_one_site():
    logs = {}
    for study in STUDIES:
        for site, value in study.mard_pct.items():
            logs.setdefault(site, []).append(math.log(value))
    squares = sum(np.var(values) * len(values) for values in logs.values())
    assert between_sensors_sd_log() == pytest.approx(math.sqrt(squares / sum(len(v) - 1 for v in logs.values())))


def test_between_sites_the_spread_is_that_of_one_study():
    several = [np.log(list(study.mard_pct.values())) for study in STUDIES if len(study.mard_pct) > 1]
    squares = sum(np.var(values) * len(values) for values in several)
    freedom = sum(len(values) - 1 for values in several)
    assert (len(several), freedom) == (6, 8)
    assert between_sites_sd_log() == pytest.approx(math.sqrt(squares / freedom))


def test_a_site_that_no_study_names_gets_wider_limits_than_any_that_one_does():
    studied = [starter_level(site) for site in SITES if starter_level(site).studied]
    unknown = starter_level("calf")
    assert len(studied) == 4
    assert not unknown.studied
    assert unknown.sd_log > max(level.sd_log for level in studied)
    assert set(unknown.cites) == {study.cite for study in STUDIES}


def test_starter_spreads_give_single_sensors_the_spread_that_was_published():
    """2.4 to 3.6 points of MARD between sensors at a MARD near 10 (J Diabetes Sci Technol 2022;16:649), the chance of
    few fingersticks included, which is added here: 0.6028 c / sqrt(n) points for normal errors of coefficient c."""
    location, dispersion = SPREADS["location"], SPREADS["dispersion"]
    z = np.random.default_rng(1).standard_normal((2, 20_000))
    mard = Mixture(
        math.hypot(location.person, location.person_cell, location.wear) * z[0],
        np.array(0.0),
        2 * math.log(0.11) + math.hypot(dispersion.person, dispersion.person_cell, dispersion.wear) * z[1],
        np.array(0.0),
        KURTOSIS,
    ).mean_relative_difference()
    chance = 0.6028 * 12.5 / math.sqrt(40)
    assert 9 < 100 * mard.mean() < 11
    assert 2.4 <= math.hypot(100 * mard.std(), chance) <= 3.6
