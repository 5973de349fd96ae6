import numpy as np
import pytest

from pooling.errors import InvalidInput, TooFewPeople
from pooling.hierarchy.channel import ChannelFit, _draw_levels, fit_channel
from pooling.hierarchy.criterion import Criterion
from pooling.hierarchy.integration import Nodes
from pooling.hierarchy.pool import channel_pool
from pooling.hierarchy.rules import FitRules
from pooling.sealing import SEAL_VERSION_1, VERSIONS, SealedRecords, seal_slot
from tests.calibration.pools import place_name, simulate, ties_between

RULES = FitRules(draws=400)


def records_of(seed, *, people=50, cells=4, confounding=1.0, tied=False):
    rng = np.random.default_rng(seed)
    pool = simulate(rng, n_people=people, n_cells=cells, confounding=confounding)
    blocks = pool.blocks()
    ties = ties_between(blocks) if tied else ()
    return pool, seal_slot(
        blocks, ties=ties, open_places=(), end_bucket=4, version=SEAL_VERSION_1, key=b"slot", k=5
    ).records


@pytest.fixture(scope="module")
def small():
    return records_of(4)[1]


def run(records, channel="location", rules=RULES, seed=7):
    return fit_channel(records, channel, rules, np.random.default_rng(seed))


@pytest.mark.parametrize("tied", [False, True])
def test_draws_given_the_sds_have_the_exact_mean_and_covariance(tied):
    """Against the textbook formulas of a Gaussian posterior with a wide prior on the mean, at one node."""
    pool = channel_pool(records_of(2, tied=tied)[1], "location", VERSIONS)
    assert bool(pool.components) == tied
    criterion = Criterion.of(pool, scale=0.05, who_chose=1.0)
    node = np.log([0.04, 0.02, 0.03, 0.03, 0.02])
    n_draws = 20_000
    levels, _ = _draw_levels(criterion, Nodes(np.tile(node, (n_draws, 1)), "nodes", 1.0, 1), np.random.default_rng(0))
    n, share, wide = pool.n_cells, pool.counts.people_share, 1e4
    site, chosen = 0.03**2, 0.02**2
    mean_part = wide * np.outer(pool.level, pool.level)
    data = criterion.covariance(node[None])[0] + mean_part
    shared = np.outer(np.ones(n), share)
    to_data = wide * np.outer(np.ones(n), pool.level) + site * pool.effects["site"] @ pool.to_rows.T
    to_data[:, :n] += chosen * shared
    own = wide + site * pool.effects["site"] + chosen * shared @ shared.T
    expected = to_data @ np.linalg.solve(data, pool.y)
    covariance = own - to_data @ np.linalg.solve(data, to_data.T)
    error = np.sqrt(np.diag(covariance) / n_draws)
    assert (np.abs(levels.mean(axis=0) - expected) < 4.5 * error).all()
    np.testing.assert_allclose(np.cov(levels.T), covariance, atol=0.05 * np.abs(covariance).max())


def test_same_records_same_state_same_bytes(small):
    assert run(small).to_bytes() == run(small).to_bytes()
    assert run(small, seed=8).to_bytes() != run(small).to_bytes()


def test_order_and_splitting_of_records_change_no_byte():
    _, records = records_of(6, tied=True)
    rng = np.random.default_rng(0)

    def shuffled(found):
        return tuple(found[i] for i in rng.permutation(len(found)))

    mixed = SealedRecords(*map(shuffled, (records.blocks, records.overlaps, records.bundles, records.ties)))
    expected = run(records).to_bytes()
    assert run(mixed).to_bytes() == expected
    assert run(records.merged()).to_bytes() == expected


def test_stored_fits_come_back_and_junk_does_not(small):
    found = run(small, "direct")
    back = ChannelFit.from_bytes(found.to_bytes())
    assert back.to_bytes() == found.to_bytes()
    assert back.cells == found.cells
    np.testing.assert_array_equal(back.levels, found.levels)
    for junk in (b"", b"junk", found.to_bytes()[:-9]):
        with pytest.raises(InvalidInput):
            ChannelFit.from_bytes(junk)


def test_known_spreads_and_levels_are_recovered():
    """500 people who did not choose by accuracy: sds within a quarter, every cell within four posterior sds."""
    pool, records = records_of(12, people=500, cells=5, confounding=0.0)
    truth = pool.truth
    found = run(records)
    ta, tb, tc = truth.location_sds
    assert np.median(np.sqrt(found.people_variance)) == pytest.approx(np.hypot(ta, tb), rel=0.25)
    assert np.median(found.sd("wear")) == pytest.approx(tc, rel=0.25)
    apart = (found.levels.mean(axis=0) - truth.location) / found.levels.std(axis=0)
    assert np.abs(apart).max() < 4
    spread = run(records, "dispersion")
    ou, ov, _ = truth.spread_sds
    assert np.median(np.sqrt(spread.people_variance)) == pytest.approx(np.hypot(ou, ov), rel=0.3)


def test_ties_undo_who_chose_what():
    """Over twelve confounded pools the end cells' difference in log variance is less biased with ties than by means."""
    errors = {"within": [], "ignoring who chose": []}
    for seed in range(12):
        pool, records = records_of(100 + seed, people=60, tied=True)
        truth = pool.truth.log_variance
        found = run(records, "dispersion")
        plain = run(
            records.__class__(records.blocks, records.overlaps, records.bundles),
            "dispersion",
            FitRules(draws=200, who_chose=0),
        )
        ends = [found.cells.index((place_name(index), None)) for index in (0, 3)]
        if not any(set(ends) <= set(component) for component in found.components):
            continue
        difference = truth[3] - truth[0]
        errors["within"].append(
            np.median(found.levels_within[:, ends[1]] - found.levels_within[:, ends[0]]) - difference
        )
        errors["ignoring who chose"].append(np.median(plain.levels[:, ends[1]] - plain.levels[:, ends[0]]) - difference)
    assert len(errors["within"]) >= 8
    assert abs(np.mean(errors["within"])) < 0.6 * abs(np.mean(errors["ignoring who chose"]))


def test_within_differs_only_inside_components(small):
    assert run(small).levels_within is not None
    np.testing.assert_array_equal(run(small).levels_within, run(small).levels)
    found = run(records_of(2, tied=True)[1])
    assert found.components
    assert not np.array_equal(found.levels_within, found.levels)


def test_what_cannot_be_fitted_is_said_so(small):
    with pytest.raises(InvalidInput, match="no channel"):
        run(small, "skin")
    with pytest.raises(TooFewPeople):
        run(SealedRecords())
