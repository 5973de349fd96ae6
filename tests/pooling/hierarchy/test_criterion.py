import numpy as np
import pytest
from scipy.special import logsumexp
from scipy.stats import multivariate_normal, t

from pooling.hierarchy.criterion import Criterion
from pooling.hierarchy.pool import channel_pool
from pooling.sealing import SEAL_VERSION_1, VERSIONS, seal_slot
from tests.calibration.pools import simulate, ties_between


def pool_of(seed=2, *, tied=True, people=50, cells=4, channel="location"):
    rng = np.random.default_rng(seed)
    blocks = simulate(rng, n_people=people, n_cells=cells).blocks()
    ties = ties_between(blocks) if tied else ()
    records = seal_slot(
        blocks, ties=ties, open_places=(), end_bucket=4, version=SEAL_VERSION_1, key=b"slot", k=5
    ).records
    return channel_pool(records, channel, VERSIONS)


@pytest.fixture(scope="module")
def criterion():
    found = Criterion.of(pool_of(), scale=0.05, who_chose=1.0)
    assert found.names == ("person", "person_cell", "wear", "site", "who_chose")
    return found


@pytest.fixture(scope="module")
def nodes(criterion):
    return np.log(criterion.scales) + np.random.default_rng(0).normal(-0.5, 0.8, (4, len(criterion.names)))


def dense_value(criterion, node):
    """The same posterior from scipy.stats, one node at a time, up to a constant."""
    pool = criterion.pool
    sd = dict(zip(criterion.names, np.exp(node), strict=True))
    n = pool.n_cells
    covariance = pool.fixed.copy()
    for name, pattern in pool.errors.items():
        covariance += sd[name] ** 2 * pattern
    for name, pattern in pool.effects.items():
        covariance += sd[name] ** 2 * pool.to_rows @ pattern @ pool.to_rows.T
    covariance[:n, :n] += sd["who_chose"] ** 2 * np.eye(n)
    # The mean has a flat prior: add up the density over a fine grid of means.
    grid = np.linspace(-0.6, 0.6, 1201)
    values = [multivariate_normal.logpdf(pool.y, mean * pool.level, covariance) for mean in grid]
    value = logsumexp(values)
    for term in pool.squares:
        expected = term.expected @ [sd["person"] ** 2, sd["person_cell"] ** 2, sd["wear"] ** 2, 1.0]
        value += -term.freedom / 2 * (np.log(expected) + term.value / expected)
    for name, scale in zip(criterion.names, criterion.scales, strict=True):
        value += t.logpdf(sd[name] / scale, 4) + np.log(sd[name])
    return value


def test_batch_equals_dense_multivariate_normal(criterion, nodes):
    batch = criterion.log_posterior(nodes)
    dense = np.array([dense_value(criterion, node) for node in nodes])
    np.testing.assert_allclose(batch - batch[0], dense - dense[0], rtol=0, atol=1e-8)


def test_a_node_has_the_same_value_in_any_batch(criterion, nodes):
    one_by_one = np.concatenate([criterion.log_posterior(node[None]) for node in nodes])
    np.testing.assert_allclose(criterion.log_posterior(nodes), one_by_one, rtol=1e-12)


def test_outside_the_bounds_nothing_is_possible(criterion):
    low, high = criterion.bounds.T
    values = criterion.log_density(np.array([low - 0.1, (low + high) / 2, high + 0.1]))
    assert np.isfinite(values).tolist() == [False, True, False]


def test_coordinates_come_back_and_keep_volume(criterion, nodes):
    np.testing.assert_allclose(criterion.to_log_sds(criterion.to_coordinates(nodes)), nodes, rtol=1e-12)
    volumes = []
    for node in nodes:
        moved = criterion.to_log_sds(criterion.to_coordinates(node[None]) + 1e-6 * np.eye(len(node)))
        volumes.append(np.linalg.det((moved - node) / 1e-6))
    np.testing.assert_allclose(volumes, volumes[0], rtol=1e-4)
    np.testing.assert_allclose(
        criterion.log_density(criterion.to_coordinates(nodes)), criterion.log_posterior(nodes), rtol=1e-10
    )


def test_without_ties_only_the_sum_of_site_and_chosen_variance_is_known():
    """So the two get the same prior: sealed blocks alone cannot say whether a site differs or its people do."""
    criterion = Criterion.of(pool_of(tied=False), scale=0.05, who_chose=1.0)
    flat = criterion.log_posterior(np.log([[0.04, 0.02, 0.03, 0.03, 0.01], [0.04, 0.02, 0.03, 0.01, 0.03]]))
    assert flat[0] == pytest.approx(flat[1], rel=1e-12)


def test_holding_who_chose_wide_leaves_cell_means_no_say():
    """Shift one cell's mean: the likelihood without the mean's own level does not notice."""
    pool = pool_of()
    shifted = type(pool)(**{**pool.__dict__, "y": pool.y + np.eye(len(pool.y))[0] * 0.05})
    node = np.log([[0.04, 0.02, 0.03, 0.03]])
    free, held = (
        [
            Criterion.of(p, scale=0.05, who_chose=0.0, hold_who_chose=hold).log_posterior(node)[0]
            for p in (pool, shifted)
        ]
        for hold in (None, 100.0)
    )
    assert abs(free[0] - free[1]) > 0.1
    assert held[0] == pytest.approx(held[1], abs=1e-3)


def test_work_does_not_grow_with_the_number_of_wears():
    """Ten times the people, the same cells: every array that a node touches has the same shape."""
    few, many = (Criterion.of(pool_of(people=n, tied=False), scale=0.05, who_chose=1.0) for n in (60, 600))
    assert sum(many.pool.counts.n_wears) > 8 * sum(few.pool.counts.n_wears)
    assert many.patterns.shape == few.patterns.shape
    assert many.pool.y.shape == few.pool.y.shape
    assert len(many.pool.squares) == len(few.pool.squares)
