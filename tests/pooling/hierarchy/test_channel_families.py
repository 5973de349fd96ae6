"""Channels beside the five of accuracy: any of them is fitted, within its limits, whatever the pool looks like."""

import numpy as np
import pytest

from pooling.errors import InvalidInput, TooFewPeople
from pooling.hierarchy import FitRules, fit_channel, fittable
from pooling.hierarchy.rules import FAMILY_OF, LIMITS
from pooling.sealing import SEAL_VERSION_1, Cell, SealedRecords, seal_slot
from tests.calibration.outcomes import Summary
from tests.calibration.pools import simulate
from tests.pooling.hierarchy.outcomes import SHARES, days, people, seal, sealed_days, sealed_ratings

RULES = FitRules(draws=200)


def levels(records, channel):
    return fit_channel(records, channel, RULES, np.random.default_rng(3)).levels


@pytest.mark.parametrize("share", [0.0, 0.5, 1.0])
@pytest.mark.parametrize("places", [("calf",), ("calf", "chest", "other")], ids=["one cell", "three cells"])
def test_none_half_or_all_are_finite_inside_the_limits_and_near_the_share(share, places):
    for channel in ("on_rated", "off_adhesive"):
        drawn = levels(sealed_days(share, places=places), channel)
        assert drawn.shape == (200, len(places))
        assert ((drawn >= 0) & (drawn <= 1)).all()
        expected = share if channel == "on_rated" else 1 - share
        assert np.abs(np.median(drawn, axis=0) - expected).max() < 0.12
        assert drawn.std(axis=0).min() > 0.005


def test_five_people_at_one_cell_are_enough():
    drawn = levels(sealed_days(1.0, n=5, places=("calf",)), "on_rated")
    assert np.isfinite(drawn).all()
    assert np.quantile(drawn, 0.025) < 0.85


@pytest.mark.parametrize("value", [0, 7, 10])
def test_ratings_that_are_all_alike(value):
    drawn = levels(sealed_ratings([value] * 12), "ease")
    assert ((drawn >= 0) & (drawn <= 10)).all()
    # A block's mean is rounded to half the assumed sd between people: 0.8 at five, less at more.
    assert abs(np.median(drawn) - value) < 0.5


def test_readings_far_off_are_fitted_from_the_sums_of_accuracy():
    pool = simulate(np.random.default_rng(1), n_people=20, n_cells=2)
    records = seal_slot(pool.blocks(), open_places=(), end_bucket=4, version=SEAL_VERSION_1, key=b"slot", k=5).records
    drawn = levels(records, "tail")
    assert ((drawn >= 0) & (drawn < 0.05)).all()


@pytest.mark.parametrize("channel", SHARES)
def test_a_channel_nobody_has_is_refused(channel):
    with pytest.raises(TooFewPeople):
        levels(SealedRecords(), channel)


def test_sensors_of_ten_days_have_no_day_14():
    blocks = [
        (Cell("everyone", "calf", "demo-a14"), people(days(10, 0.8))),
        (Cell("everyone", "calf", "demo-b10"), people([Summary(worn_min=10 * 1440)] * 10, first=50, life=10)),
    ]
    records = seal(blocks, "survival")
    fit = fit_channel(records, "on14", RULES, np.random.default_rng(3))
    assert fit.cells == (("calf", "demo-a14"),)
    assert len(fit_channel(records, "on10", RULES, np.random.default_rng(3)).cells) == 2


def test_an_unknown_channel_is_named():
    with pytest.raises(InvalidInput, match="on5"):
        levels(sealed_days(0.5), "on5")


def test_families_do_not_mix():
    """Sums of the skin or of ratings beside them change no draw."""
    days_only = sealed_days(0.8)
    mixed = days_only + sealed_ratings([5] * 12)
    assert levels(mixed, "on_rated").tobytes() == levels(days_only, "on_rated").tobytes()


def test_what_is_published_as_fitted_has_limits():
    assert set(FAMILY_OF) - set(LIMITS) == {"location", "dispersion", "direct", "rate15", "rate20"}


def test_what_is_fittable_is_what_blocks_hold():
    assert fittable(sealed_days(0.5) + sealed_ratings([5] * 12)) == (
        "on3", "on7", "on10", "on14", "on_rated", "off_adhesive", "off_device", "off_body", "off_other",
        "ease",
    )  # fmt: skip
    assert fittable(SealedRecords()) == ()
