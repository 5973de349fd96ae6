"""The stated truth of days on the skin, ends, skin and ratings is what the invented wears come to."""

import numpy as np
import pytest

from pooling.sealing.outcomes import OFF
from pooling.simulate import SensorModelPlan, draw_law
from pooling.simulate.community import NO_PAIRS_FRAC
from pooling.simulate.law import Effects
from pooling.simulate.outcomes import mean_rating, outcome_truth
from pooling.simulate.wear import WearCircumstances, draw_lost_wear, draw_wear

N = 3000


@pytest.fixture(scope="module", params=[10, 14])
def drawn(request):
    """Three thousand wears of a model, a tenth of them lost so that lost ones are seen."""
    rng = np.random.default_rng(7)
    law = draw_law(rng, ["calf"], [SensorModelPlan("demo-a14", request.param, ())])
    circumstances = WearCircumstances("calf", "demo-a14", "mg/dL", Effects(0.0, 0.0), n_pairs=1)
    records = [
        draw_lost_wear(rng, circumstances) if rng.random() < 0.1 else draw_wear(rng, law, circumstances)
        for _ in range(N)
    ]
    return records, outcome_truth(request.param, lost_frac=0.1), request.param


def near(share, expected):
    """Four standard errors of a share of N."""
    assert share == pytest.approx(expected, abs=4 * max(expected * (1 - expected), 1e-3) ** 0.5 / N**0.5)


def test_days_on_the_skin(drawn):
    records, truth, life = drawn
    worn = np.array([record["worn_min"] for record in records])
    for day, share in truth.on.items():
        near((worn >= day * 1440).mean(), share)
    near(np.mean([record["end_reason"] == "completed" for record in records]), truth.on_rated)
    assert set(truth.on) == {day for day in (3, 7, 10, 14) if day <= life}
    if life in truth.on:
        assert truth.on[life] == pytest.approx(truth.on_rated)


def test_how_wears_end(drawn):
    records, truth, _ = drawn
    for reason, share in truth.off.items():
        near(np.mean([record["end_reason"] == reason for record in records]), share)
    assert truth.on_rated + sum(truth.off.values()) == pytest.approx(1)
    assert {reason for kind in OFF.values() for reason in kind} <= set(truth.off)


def test_skin_and_ratings(drawn):
    records, truth, _ = drawn
    near(np.mean([record["skin"]["grade"] > 1 for record in records]), truth.reaction)
    for rating in ("ease", "comfort", "discretion"):
        mean = np.mean([record["ratings"][rating] for record in records])
        assert mean == pytest.approx(truth.rating, abs=4 * 2 / N**0.5)


def test_a_rating_held_within_its_scale_moves_inwards():
    assert mean_rating(9.5, 2.0) < 9.5
    assert mean_rating(0.0, 2.0) > 0.0
    assert mean_rating(6.0, 1e-9) == 6.0


def test_communities_lose_few_wears():
    assert outcome_truth(14, lost_frac=NO_PAIRS_FRAC).on_rated == pytest.approx(0.99 * 0.72)
