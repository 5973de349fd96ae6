from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy.special import gamma
from scipy.stats import multivariate_normal

from pooling.errors import NoConvergence
from pooling.hierarchy import integration
from pooling.hierarchy.criterion import Criterion
from pooling.hierarchy.integration import Proposal, effective_number, integrate
from pooling.hierarchy.pool import channel_pool
from pooling.hierarchy.rules import FitRules
from pooling.sealing import SEAL_VERSION_1, VERSIONS, SealedRecords, seal_slot
from tests.calibration.pools import simulate, ties_between


@dataclass
class Known:
    """A criterion with a posterior that can be written down."""

    density: object
    size: int
    evaluated: int = 0

    @property
    def names(self):
        return tuple("abcdefgh"[: self.size])

    @property
    def scales(self):
        return np.ones(self.size)

    @property
    def bounds(self):
        return np.tile([-12.0, 8.0], (self.size, 1))

    @property
    def start(self):
        return np.zeros(self.size)

    def to_log_sds(self, points):
        return points

    def log_density(self, nodes):
        self.evaluated += len(nodes)
        inside = ((nodes >= -12) & (nodes <= 8)).all(axis=1)
        return np.where(inside, self.density(nodes), -np.inf)


MEAN = np.array([-1.0, 0.5, -0.3])
ROOT = np.array([[0.5, 0, 0], [0.2, 0.3, 0], [-0.1, 0.1, 0.6]])
NORMAL = multivariate_normal(MEAN, ROOT @ ROOT.T)
RULES = FitRules(draws=4000)


def two_humps(nodes):
    """Half of the mass at -2, half at 2: a single hump of nodes is not enough."""
    return np.logaddexp(-0.5 * ((nodes + 2) / 0.15) ** 2, -0.5 * ((nodes - 2) / 0.15) ** 2).sum(axis=1)


def test_nodes_reproduce_a_normal_posterior():
    found = integrate(Known(NORMAL.logpdf, 3), replace(RULES, wanted_effective=1500), np.random.default_rng(1))
    assert found.method == "nodes"
    assert found.effective >= 1500
    np.testing.assert_allclose(found.draws.mean(axis=0), MEAN, atol=0.05)
    np.testing.assert_allclose(np.cov(found.draws.T), ROOT @ ROOT.T, atol=0.05)


def test_proposal_states_the_density_that_it_draws_from():
    """Weights of nodes by a known normal over the stated density average to the same constant wherever the mode is."""
    for mode in (MEAN, MEAN + 0.3):
        proposal = Proposal.around(mode, 1.5 * ROOT)
        nodes = proposal.nodes(np.clip(np.random.default_rng(2).random((40_000, 5)), 1e-9, 1 - 1e-9))
        weights = np.exp(NORMAL.logpdf(nodes) - proposal.log_density(nodes))
        # The density is stated without the constant of a t distribution with 5 degrees of freedom in 3 dimensions.
        constant = gamma(4.0) / gamma(2.5) / (5 * np.pi) ** 1.5
        assert weights.mean() == pytest.approx(constant, rel=0.03)


def test_long_tails_do_not_use_up_the_nodes():
    """Log odds fall off like exp(-|x| / 2) although the curvature at the mode says a sd of 2."""

    def odds(nodes):
        return (-0.5 * np.logaddexp(nodes, 0) - 0.5 * np.logaddexp(-nodes, 0)).sum(axis=1)

    found = integrate(Known(odds, 3), replace(RULES, most_batches=4), np.random.default_rng(4))
    assert found.method == "nodes"
    assert found.effective > 150


def test_more_is_wanted_more_is_evaluated():
    few, many = (
        integrate(Known(NORMAL.logpdf, 3), replace(RULES, wanted_effective=demand), np.random.default_rng(1))
        for demand in (50, 1000)
    )
    assert many.n_evaluated > few.n_evaluated
    assert few.effective >= 50


def test_chains_take_over_where_nodes_are_too_few():
    """An exponential left tail over sixteen units, as a log sd has: one batch of nodes does not do."""

    def tail(nodes):
        return (nodes - 4 * np.exp(nodes)).sum(axis=1)

    hard = replace(RULES, batch=64, most_batches=1, fewest_effective=200)
    found = integrate(Known(tail, 5), hard, np.random.default_rng(3))
    assert found.method == "chains"
    # exp(x) is exponential with mean 1/4, so x has mean -log 4 - Euler's constant and variance pi^2 / 6.
    np.testing.assert_allclose(found.draws.mean(axis=0), -np.log(4) - np.euler_gamma, atol=0.15)
    np.testing.assert_allclose(found.draws.var(axis=0), np.pi**2 / 6, rtol=0.2)


def test_slow_chains_go_on_until_they_are_worth_what_is_demanded(monkeypatch):
    """A posterior that mixes slowly is not given up after the stages that most need."""
    asked = []

    def slowly(kept):
        asked.append(len(kept))
        return 12.0 * len(asked)

    monkeypatch.setattr(integration, "_chain_effective", slowly)
    hard = replace(RULES, batch=64, most_batches=1, fewest_effective=100)
    found = integrate(Known(lambda nodes: (nodes - 4 * np.exp(nodes)).sum(axis=1), 5), hard, np.random.default_rng(3))
    assert (found.method, found.effective, len(asked)) == ("chains", 108, 9)


def test_chains_and_nodes_agree_on_a_pool():
    """The same posterior by two ways: medians of every sd within a third of its spread on the log scale."""
    rng = np.random.default_rng(14)
    blocks = simulate(rng, n_people=45, n_cells=4).blocks()
    records = seal_slot(blocks, open_places=(), end_bucket=4, version=SEAL_VERSION_1, key=b"slot", k=5).records
    criterion = Criterion.of(channel_pool(records, "dispersion", VERSIONS), scale=0.5, who_chose=1.0)
    by_nodes = integrate(criterion, replace(RULES, wanted_effective=1000), np.random.default_rng(1))
    by_chains = integrate(criterion, replace(RULES, batch=64, most_batches=1), np.random.default_rng(2))
    assert (by_nodes.method, by_chains.method) == ("nodes", "chains")
    apart = np.median(by_nodes.draws, axis=0) - np.median(by_chains.draws, axis=0)
    assert (np.abs(apart) < by_nodes.draws.std(axis=0) / 3).all()
    assert np.log(by_nodes.draws.std(axis=0) / by_chains.draws.std(axis=0)) == pytest.approx(0, abs=0.4)


def test_the_top_of_a_narrow_ridge_is_found_without_chains():
    """Sums over very many people: some coordinates are known a thousand times better than others."""
    blocks = simulate(np.random.default_rng(2), n_people=45, n_cells=4).blocks()
    ties = ties_between(blocks)
    few = seal_slot(blocks, ties=ties, open_places=(), end_bucket=4, version=SEAL_VERSION_1, key=b"slot", k=5).records
    many = SealedRecords.of(few.records * 1_000).merged()
    criterion = Criterion.of(channel_pool(many, "location", VERSIONS), scale=0.05, who_chose=1.0)
    found = integrate(criterion, FitRules(), np.random.default_rng(2))
    assert found.method == "nodes"


def test_an_answer_that_cannot_be_trusted_is_not_given():
    with pytest.raises(NoConvergence, match="demanded"):
        integrate(Known(two_humps, 2), replace(RULES, most_batches=1, fewest_effective=10**6), np.random.default_rng(5))


def test_same_state_same_draws():
    first, second = (integrate(Known(NORMAL.logpdf, 3), RULES, np.random.default_rng(9)) for _ in range(2))
    assert first.draws.tobytes() == second.draws.tobytes()


def test_effective_number_of_equal_weights_is_their_count():
    assert effective_number(np.full(37, -1000.0)) == pytest.approx(37)
