"""A wear beside what an edition lets one expect: against the law that the wears were drawn from."""

from math import exp

import numpy as np
import pytest

from pooling.checks import CHECKS, SEVERITY_OF, find
from pooling.checks.misfit import FAR_SDS, UNLIKE, Expected, expected, misfit, points
from pooling.columns import columns_from
from pooling.record import record_from
from tests.findings.plants import IN_RECORDS
from tests.findings.study import good_records

CENTRE, PEOPLE, WEAR, LOG_VARIANCE = 0.04, 0.06, 0.05, -4.6


def value(number):
    return {"value": number}


MODEL = {
    "spreads": {"location": {"people": value(PEOPLE), "wear": value(WEAR)}},
    "cells": [
        {"site": "thigh.front", "sensor_model": None, "location": value(CENTRE), "log_variance": value(LOG_VARIANCE)},
        {"site": "thigh.front", "sensor_model": "demo-b10", "location": value(0.5), "log_variance": value(-4.6)},
        {"site": None, "sensor_model": None, "location": value(0.1), "log_variance": value(-4.6)},
    ],
}


def wear(rng, *, shift=0.0, n_pairs=30, site="thigh.front"):
    """A wear of the law that the block above states, `shift` standard deviations of its mean away from it."""
    sd = np.sqrt(PEOPLE**2 + WEAR**2 + exp(LOG_VARIANCE) / n_pairs)
    own = CENTRE + shift * sd + rng.normal(0, np.hypot(PEOPLE, WEAR)) * (shift == 0)
    ratio = own + exp(LOG_VARIANCE / 2) * rng.standard_normal(n_pairs) * (shift == 0)
    reference = rng.uniform(80, 250, n_pairs)
    pairs = [
        {
            "elapsed_min": 60 * at,
            "reference": r,
            "sensor": round(r * exp(q), 2),
            "prompt": "scheduled",
            "source": "trace",
        }
        for at, (r, q) in enumerate(zip(reference.round(2).tolist(), ratio.tolist(), strict=True))
    ]
    head = {"format": "wear-record/1", "glucose_unit": "mg/dL", "sensor_model": "demo-a14", "worn_min": 20_000}
    told = {"end_reason": "completed", "assignment": "chosen", "calibrated": False, "site": site}
    return columns_from(record_from(head | told | {"pairs": pairs}))


def beside(columns, *, site="thigh.front", sensor_model="demo-a14"):
    return expected(columns, MODEL, site=site, sensor_model=sensor_model)


def test_ninety_five_of_a_hundred_wears_of_the_law_lie_in_the_range():
    rng = np.random.default_rng(3)
    inside = [abs(beside(wear(rng)).sds_off) < 1.96 for _ in range(600)]
    # Binomial, n = 600, p = 0.95: outside 0.92 to 0.975 less than once in a hundred.
    assert 0.92 <= np.mean(inside) <= 0.975


@pytest.mark.parametrize("shift", [-5, -3.2, -1, 1, 3.2, 5])
def test_a_wear_is_as_far_off_as_it_was_put(shift):
    found = beside(wear(np.random.default_rng(4), shift=shift))
    assert found.sds_off == pytest.approx(shift, abs=0.06)
    assert [finding.code for finding in misfit(found)] == ([UNLIKE] if abs(shift) >= FAR_SDS else [])
    assert (found.own_pct > found.upper_pct, found.own_pct < found.lower_pct) == (shift > 2, shift < -2)


def test_the_cell_of_the_model_comes_before_the_site_and_what_is_not_published_says_nothing():
    columns = wear(np.random.default_rng(5))
    assert beside(columns, sensor_model="demo-b10").sds_off < -3
    assert beside(columns, site="calf") is None
    assert expected(columns, {}, site="thigh.front", sensor_model="demo-a14") is None
    assert beside(wear(np.random.default_rng(5), n_pairs=7)) is None
    assert misfit(None) == ()
    without = MODEL | {"spreads": {"location": {"people": value(PEOPLE)}}}
    assert expected(columns, without, site="thigh.front", sensor_model="demo-a14") is None


def test_the_remark_names_both_sides():
    (finding,) = misfit(Expected(-10.0, 12.0, 34.0, 5.1))
    assert all(word in finding.seen for word in ("+34 %", "-10", "+12 %"))


def test_every_finding_there_is_has_a_weight_and_no_other_has():
    rng = np.random.default_rng(6)
    found = {}
    for record in good_records(rng, 120):
        kinds = [record]
        if len(record["pairs"]) >= 20:
            kinds += [changed for _, _, plant in IN_RECORDS.values() if (changed := plant(rng, record)) is not None]
        for kind in kinds:
            told = record_from(kind)
            found |= {finding.code: finding.severity for finding in find(columns_from(told), told)}
    assert found.items() <= SEVERITY_OF.items()
    assert len(found) >= 11
    assert len(CHECKS) + 3 == len(SEVERITY_OF)  # copied has two; one is about the pool, one about a plan


def test_what_stops_weighs_more_than_a_copy_and_a_copy_more_than_a_remark():
    stop, look, note = (points([("some", severity)]) for severity in ("stop", "look", "note"))
    assert stop > points([], given_twice=True) > look > note > points([])
