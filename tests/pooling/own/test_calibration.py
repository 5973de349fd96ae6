"""A small slice of ``python -m tests.calibration --outcome own``: rough bands that a broken estimate falls out of."""

import pytest

from pooling.hierarchy import FitRules
from tests.calibration import own


@pytest.fixture(scope="module")
def covered():
    return own.run(2, 11, (120, 140), 1.0, rules=FitRules(draws=200), n_new=40)


@pytest.mark.parametrize(("share", "fewest", "most"), [("80 %", 0.70, 0.90), ("95 %", 0.88, 0.99)])
def test_limits_hold_the_next_wear(covered, share, fewest, most):
    """Two pools of 40 new people, three times: bands of about three Monte Carlo errors, most of it between pools."""
    hits = [hit for score in covered.values() for name, hits in score.hits.items() if share in name for hit in hits]
    assert fewest <= sum(hits) / len(hits) <= most


def test_own_wears_bring_the_next_one_nearer(covered):
    none, one, three = (sum(score.widths) / len(score.widths) for score in covered.values())
    assert none > one > three


def test_limits_hold_for_somebody_whose_sensor_model_the_pool_does_not_know():
    """95 % ranges of the person and of the next wear; without a spread between models, .78 to .88 of persons."""
    scores = own.run(2, 13, (120, 140), 1.0, rules=FitRules(draws=200), n_new=60, new_model=True).values()
    for share in ("person, 95 %", "new wear, 95 %"):
        hits = [hit for score in scores for hit in score.hits[share]]
        assert 0.90 <= sum(hits) / len(hits) <= 0.99


@pytest.mark.parametrize("n_sites", [1, 4])
def test_limits_hold_at_a_site_that_the_pool_does_not_hold(n_sites):
    """The sensor is the pool's own: with what sensors differ by added as well, .97 to .99 of persons without wears."""
    scores = own.run(2, 17, (120, 140), 1.0, rules=FitRules(draws=200), n_new=60, n_sites=n_sites, new_site=True)
    for share in ("person, 95 %", "new wear, 95 %"):
        hits = [hit for score in scores.values() for hit in score.hits[share]]
        assert 0.88 <= sum(hits) / len(hits) <= 0.99
