"""From sealed parts to rows: known answers without noise, and a slice of the calibration."""

from dataclasses import replace

import numpy as np
import pytest

from pooling.hierarchy import FitRules, fit
from pooling.parts import DAYS_ALIKE, estimate
from pooling.parts.estimates import scatter_by_channel
from pooling.sealing import SEAL_VERSION_1, SealedRecords
from tests.calibration import parts as world

RULES = FitRules(draws=200)
LIVES = {world.MODEL: world.LIFE}


@pytest.fixture(scope="module")
def pool():
    rng = np.random.default_rng(11)
    law = world.Law.drawn(3, rng)
    records = world.sealed(law, 110, rng)
    return law, records, fit(records, RULES, rng)


def told(records, fitted, **changed):
    stays = [world._stays(site.place) for site in fitted.sites]
    asked = {"survival": stays, "rated_life_days": LIVES} | changed
    return estimate(records, fitted, RULES, np.random.default_rng(1), **asked)


def by_part(rows, place):
    return {row.part: row for row in rows if row.place == place}


def test_every_site_has_its_parts_and_all_places_come_without_a_level(pool):
    _, records, fitted = pool
    found = told(records, fitted)
    everywhere = by_part(found.phases, None)
    assert set(everywhere) == {"day1", "days2_7", "day8_on"}
    assert all(row.mard_pct is None and row.share_pct is not None for row in everywhere.values())
    site = fitted.sites[0].place
    assert set(by_part(found.phases, site)) == {"day1", "days2_7", "day8_on", DAYS_ALIKE}
    assert set(by_part(found.prompts, site)) <= {"scheduled", "doubt"}


def test_parts_lie_where_the_world_put_them(pool):
    """The first day, low fingersticks and doubt scatter more in this world."""
    _, records, fitted = pool
    found = told(records, fitted)
    assert by_part(found.phases, None)["day1"].against_all_points.median > 0
    assert by_part(found.ranges, None)["reference_low"].against_all_points.median > 0
    doubt = by_part(found.prompts, None)["doubt"].against_scheduled_points
    assert doubt.lower < doubt.median < doubt.upper
    assert by_part(found.prompts, None)["scheduled"].against_scheduled_points is None


def test_a_part_moves_the_row_of_its_site(pool):
    _, records, fitted = pool
    site = fitted.sites[0]
    row = by_part(told(records, fitted).phases, site.place)["day1"]
    assert row.mard_pct.median == pytest.approx(site.mard_pct.median + row.against_all_points.median, abs=0.35)
    assert row.mard_pct.upper - row.mard_pct.lower > row.against_all_points.upper - row.against_all_points.lower


def test_without_shares_still_on_no_row_counts_days_alike(pool):
    _, records, fitted = pool
    assert DAYS_ALIKE not in {row.part for row in told(records, fitted, survival=()).phases}


def test_people_are_never_more_than_the_pool_holds(pool):
    _, records, fitted = pool
    rows = told(records, fitted)
    assert max(row.n_people for row in (*rows.phases, *rows.lows)) <= 110
    assert min(row.n_people for row in rows.phases) >= 5


def test_no_parts_no_rows(pool):
    _, records, fitted = pool
    bare = SealedRecords.of(record for record in records.records if record not in records.parts)
    assert told(bare, fitted) == estimate(bare, fitted, RULES, np.random.default_rng(2), rated_life_days={})
    assert not told(bare, fitted).phases


def test_the_same_records_and_numbers_give_the_same_rows(pool):
    _, records, fitted = pool
    assert told(records, fitted) == told(replace(records, parts=records.parts[::-1]), fitted)


@pytest.mark.parametrize("times", [0.6, 1.0, 1.6])
def test_scatter_of_readings_is_relative_to_the_pools_own_mean(times):
    """Student's t with 5 degrees of freedom: 0.85 by its moments, and the same however near sensors are as a whole."""
    rng = np.random.default_rng(5)
    law = world.Law.drawn(3, rng)
    records = world.sealed(replace(law, scatter=times * law.scatter), 90, rng)
    assert scatter_by_channel(records, RULES)["direct"].relative_variance == pytest.approx(0.85, rel=0.35)


def test_people_differ_in_every_channel_as_the_version_assumes(pool):
    _, records, _ = pool
    found = scatter_by_channel(records, RULES)
    for channel in ("direct", "rate15", "rate20"):
        assert found[channel].person_variance == SEAL_VERSION_1.channels[channel].person_variance


def test_intervals_hold_the_truth_about_as_often_as_they_say():
    """Four pools: enough to see limits that do not hold, far from enough to tell 95 % from 90 %."""
    scores = world.run(4, 12, (90, 120), FitRules(draws=200))
    hits = np.concatenate([np.concatenate(score.hits) for score in scores.values()])
    assert len(hits) > 100
    assert hits.mean() >= 0.85
