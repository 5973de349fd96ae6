from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from scipy.special import expit, logit

from pooling.errors import InvalidInput
from pooling.hierarchy import CHANNELS, FitRules, combine, fit_channel
from pooling.hierarchy.combination import shift_to_level
from pooling.sealing import SEAL_VERSION_1, Cell, SealedRecords, seal_slot
from tests.calibration.pools import place_name, simulate

RULES = FitRules(draws=400)


@pytest.fixture(scope="module")
def two_models():
    """Three places, of which the first two are worn with two models each, and the truth behind every cell."""
    rng = np.random.default_rng(17)
    pool = simulate(rng, n_people=90, n_cells=5, confounding=0.0)
    names = [("calf", "m1"), ("calf", "m2"), ("chest", "m1"), ("chest", "m2"), ("forearm", "m1")]
    blocks = [
        (Cell("everyone", *names[int(cell.place.removeprefix("place"))]), members) for cell, members in pool.blocks()
    ]
    records = seal_slot(blocks, open_places=(), end_bucket=4, version=SEAL_VERSION_1, key=b"slot", k=5).records
    fits = {
        channel: fit_channel(records, channel, RULES, np.random.default_rng(index))
        for index, channel in enumerate(CHANNELS)
    }
    return pool, names, records, fits


@pytest.fixture(scope="module")
def pooled(two_models):
    _, _, records, fits = two_models
    return combine(records, fits, RULES, np.random.default_rng(0))


def test_rows_are_cells_and_sites(pooled, two_models):
    _, names, *_ = two_models
    assert [(cell.place, cell.sensor_model) for cell in pooled.cells] == names
    assert [(site.place, site.sensor_model) for site in pooled.sites] == [
        ("calf", None),
        ("chest", None),
        ("forearm", None),
    ]
    assert pooled.sites[0].n_wears == sum(cell.n_wears for cell in pooled.cells[:2])


def test_every_row_holds_the_truth_within_four_posterior_sds(pooled, two_models):
    """One fixed pool. Truth by quadrature of the law it was drawn from (tests.calibration.pools)."""
    pool, *_ = two_models
    for name, truth in (
        ("mard_pct", pool.truth.mard()),
        ("within_15_15_pct", pool.truth.rate(0.15)),
        ("within_20_20_pct", pool.truth.rate(0.20)),
        ("bias_pct", np.expm1(pool.truth.location)),
    ):
        for cell, value in zip(pooled.cells, 100 * truth, strict=True):
            found = getattr(cell, name)
            assert abs(found.median - value) < (found.upper - found.lower), (name, cell.place)
            assert found.lower <= found.median <= found.upper


def test_where_nobody_chooses_by_accuracy_the_people_weighted_mean_is_the_direct_level(pooled, two_models):
    *_, fits = two_models
    people = np.array([cell.n_people for cell in pooled.cells])
    shares = people / people.sum()
    level = np.median(fits["direct"].levels @ shares)
    anchored = shares @ [cell.mard_pct.median / 100 for cell in pooled.cells]
    assert anchored == pytest.approx(level, rel=0.02)


def test_who_prefers_a_site_that_reads_as_they_do_is_not_taken_for_the_site(two_models):
    """People who read high at a site that reads high add to the pool's own mean, which the factor leaves out."""
    _, _, records, fits = two_models
    location = fits["location"]
    alike = location.levels_within + 0.05 * np.sign(location.levels_within)
    bent = {**fits, "location": replace(location, levels_as_worn=alike)}
    plain = combine(records, fits, RULES, np.random.default_rng(0))
    found = combine(records, bent, RULES, np.random.default_rng(0))
    assert all(a.mard_pct.median < b.mard_pct.median for a, b in zip(found.cells, plain.cells, strict=True))
    assert all(
        a.within_15_15_pct.median > b.within_15_15_pct.median for a, b in zip(found.cells, plain.cells, strict=True)
    )


def test_a_site_lies_between_its_models(pooled):
    for site, members in zip(pooled.sites, (pooled.cells[:2], pooled.cells[2:4], pooled.cells[4:]), strict=True):
        for name in ("mard_pct", "within_15_15_pct"):
            inside = [getattr(cell, name).median for cell in members]
            assert min(inside) - 0.15 <= getattr(site, name).median <= max(inside) + 0.15
    assert pooled.sites[2].mard_pct == pooled.cells[4].mard_pct


def test_contrasts_are_all_pairs_of_sites_and_of_places_within_a_model(pooled):
    sites = [(c.a[0], c.b[0]) for c in pooled.contrasts if c.kind == "sites"]
    assert sites == list(combinations(("calf", "chest", "forearm"), 2))
    cells = [(c.a, c.b) for c in pooled.contrasts if c.kind == "cells"]
    assert all(a[1] == b[1] and a[0] != b[0] for a, b in cells)
    assert len(cells) == 3 + 1
    assert not any(contrast.tied for contrast in pooled.contrasts)


def test_a_difference_agrees_with_the_chance_of_being_better(pooled):
    for contrast in pooled.contrasts:
        assert 0 <= contrast.p_a_better_frac <= 1
        assert (contrast.difference_mard_points.median < 0) == (contrast.p_a_better_frac > 0.5)
        if contrast.difference_mard_points.upper < 0:
            assert contrast.p_a_better_frac > 0.95


def test_most_people_lie_in_the_people_range(pooled, two_models):
    """80 % by construction: against people drawn from the truth's own law, between 65 and 92 %."""
    pool, *_ = two_models
    rng = np.random.default_rng(3)
    ta, tb, tc = pool.truth.location_sds
    ou, ov, ot = pool.truth.spread_sds
    for index, cell in enumerate(pooled.cells):
        low, high = cell.people_range_pct
        location = pool.truth.location[index] + np.hypot(ta, tb) * rng.standard_normal(400)
        spread = pool.truth.log_variance[index] + np.hypot(ou, ov) * rng.standard_normal(400)
        wears = location[:, None] + tc * rng.standard_normal((400, 400))
        sd = np.exp(0.5 * (spread[:, None] + ot * rng.standard_normal((400, 400))))
        tail = np.clip(rng.standard_t(5, (400, 400)), -7, 7) / np.sqrt(5 / 3)
        mard = 100 * np.abs(np.expm1(wears + sd * tail)).mean(axis=1)
        assert 0.65 < ((mard > low) & (mard < high)).mean() < 0.92
        assert low < cell.mard_pct.median < high


def test_reading_sd_holds_four_of_five_readings(pooled, two_models):
    pool, *_ = two_models
    for index, cell in enumerate(pooled.cells):
        inside = []
        for wear in (wear.stratum for wear in pool.wears if wear.cell == index):
            # Only sums of a wear are kept; compare the second moment about the cell, loosened for heavy tails.
            inside.append((wear.s + wear.n_pairs * (wear.m - cell.location) ** 2, wear.n_pairs))
        squares, pairs = np.sum(inside, axis=0)
        assert 0.7 < cell.reading_sd_log / np.sqrt(squares / pairs) < 1.15


def test_shift_meets_the_level_and_keeps_the_order():
    rng = np.random.default_rng(1)
    shares, weights = rng.uniform(0.5, 0.95, (50, 4)), np.array([0.4, 0.3, 0.2, 0.1])
    level = rng.uniform(0.6, 0.95, 50)
    moved = expit(logit(shares) + shift_to_level(shares, level, weights)[:, None])
    np.testing.assert_allclose(moved @ weights, level, atol=1e-9)
    np.testing.assert_array_equal(moved.argsort(axis=1), shares.argsort(axis=1))
    np.testing.assert_array_equal(
        shift_to_level(shares, np.full(50, 1.3), weights), shift_to_level(shares, np.full(50, 0.999), weights)
    )


def test_shape_without_a_record_falls_back_on_the_version(two_models):
    _, _, records, fits = two_models
    bare = SealedRecords(records.blocks, records.overlaps)
    found = combine(bare, fits, RULES, np.random.default_rng(0))
    assert found.diagnostics["kurtosis"] == SEAL_VERSION_1.kurtosis
    assert any("shape" in note for note in found.diagnostics["notes"])


def test_pooled_kurtosis_is_that_of_the_readings(pooled):
    """t readings on 5 degrees of freedom, clipped at 7, have excess kurtosis 2.6; short wears say less."""
    assert 1.0 < pooled.diagnostics["kurtosis"] < 3.5


def test_fits_of_other_records_are_refused(two_models):
    _, _, records, fits = two_models
    with pytest.raises(InvalidInput, match="has not been fitted"):
        combine(records, {name: fits[name] for name in CHANNELS[1:]}, RULES, np.random.default_rng(0))
    fewer = SealedRecords(records.blocks[:-2], (), records.bundles)
    assert place_name(0) not in {block.cell.place for block in fewer.blocks}
    with pytest.raises(InvalidInput, match="other records"):
        combine(
            SealedRecords(tuple(b for b in records.blocks if b.cell.place == "calf")),
            fits,
            RULES,
            np.random.default_rng(0),
        )
