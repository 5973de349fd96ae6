"""Integrate over the standard deviations: weighted nodes around the mode, or chains where those do not suffice."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.special import logsumexp, ndtri
from scipy.stats import chi2, qmc

from pooling.errors import NoConvergence
from pooling.hierarchy.criterion import Criterion
from pooling.hierarchy.rules import FitRules

Floats = NDArray[np.float64]

_STEP = 0.02
_TAIL = 5.0
_WIDEN = 1.1
_CENTRAL = 0.3
_STRETCH = 4.0
_FLATTEST = 0.3
_ATTEMPTS = 3
"""How often nodes are laid before chains take over."""
_CHAINS = 64
_EASY_STAGES, _MOST_STAGES = 5, 30
"""Stages after which chains stop at what is demanded instead of twice that, and after which they are given up."""


@dataclass(frozen=True)
class Nodes:
    """Log sds drawn from their posterior (draws x d), how they were found, and what they are worth."""

    draws: Floats
    method: str
    effective: float
    n_evaluated: int


def integrate(criterion: Criterion, rules: FitRules, rng: np.random.Generator) -> Nodes:
    """Draw from the posterior of the log sds.

    Quasi-random nodes from t distributions around the mode are weighted by the posterior. If their effective number
    stays under the demanded one, the mode is sought again, from the best of them and in steps of the posterior's own
    width, and nodes are laid around it anew; if that does not help, many short chains that propose from each other's
    differences take over. Nodes alone are not trusted: near zero a log sd has a long tail, and a few nodes can carry
    all the weight.

    Parameters
    ----------
    criterion : Criterion
        The model of one channel.
    rules : FitRules
        Number of draws, batch size, demanded effective number.
    rng : numpy.random.Generator

    Returns
    -------
    Nodes

    Raises
    ------
    NoConvergence
        Neither way reaches the demanded effective number.
    """
    mode = _mode(criterion)
    n_evaluated = 0
    for n_left in reversed(range(_ATTEMPTS)):
        spread = _spread(criterion, mode)
        nodes, log_weights = _importance(criterion, mode, spread, rules, rng)
        n_evaluated += len(nodes)
        effective = effective_number(log_weights)
        weights = np.exp(log_weights - log_weights.max())
        if effective >= rules.fewest_effective:
            chosen = _systematic(weights, rules.draws, rng)
            return Nodes(criterion.to_log_sds(nodes[chosen]), "nodes", effective, n_evaluated)
        if n_left:
            mode = _mode_near(criterion, nodes[criterion.log_density(nodes).argmax()], spread)
    start = nodes[_systematic(weights, _CHAINS, rng)]
    return _chains(criterion, start, spread, rules, rng, n_evaluated)


def effective_number(log_weights: Floats) -> float:
    """Kish's effective number of weighted nodes, (sum w)^2 / sum w^2.

    >>> round(effective_number(np.log(np.array([1.0, 1.0, 2.0]))), 4)
    2.6667
    """
    weights = np.exp(log_weights - log_weights.max())
    return float(weights.sum() ** 2 / (weights @ weights))


def _mode(criterion: Criterion) -> Floats:
    """Highest point of the log posterior by L-BFGS-B; all differences of a gradient are one batch."""
    size = len(criterion.names)
    low, high = criterion.bounds.T
    shifts = np.vstack([np.zeros(size), 1e-4 * np.eye(size), -1e-4 * np.eye(size)])

    def negative(point: Floats) -> tuple[float, Floats]:
        values = -criterion.log_density(point + shifts)
        return float(values[0]), (values[1 : size + 1] - values[size + 1 :]) / 2e-4

    inner = list(zip(low + 0.1, high - 0.1, strict=True))
    return minimize(negative, criterion.start, jac=True, method="L-BFGS-B", bounds=inner).x


def _mode_near(criterion: Criterion, point: Floats, spread: Floats) -> Floats:
    """Highest point of the log posterior, sought in units of its width about where it was thought to be.

    Sums over very many people know some coordinates a thousand times better than others. Along such a ridge `_mode`
    ends before it is at the top, and nodes laid around its end carry unequal weights.
    """
    size, step = len(point), 1e-3
    low, high = criterion.bounds.T
    shifts = step * np.vstack([np.zeros(size), spread.T, -spread.T])

    def at(units: Floats) -> Floats:
        return np.clip(point + spread @ units, low + 0.1, high - 0.1)

    def negative(units: Floats) -> tuple[float, Floats]:
        values = -criterion.log_density(at(units) + shifts)
        return float(values[0]), (values[1 : size + 1] - values[size + 1 :]) / (2 * step)

    return at(minimize(negative, np.zeros(size), jac=True, method="L-BFGS-B").x)


def _spread(criterion: Criterion, mode: Floats) -> Floats:
    """Square root of the inverse curvature at the mode, with flat directions limited."""
    size = len(mode)
    unit = _STEP * np.eye(size)
    pairs = [(i, j) for i in range(size) for j in range(i + 1)]
    corners = np.array(
        [mode + a * unit[i] + b * unit[j] for i, j in pairs for a, b in ((1, 1), (1, -1), (-1, 1), (-1, -1))]
    )
    values = criterion.log_density(np.clip(corners, *criterion.bounds.T)).reshape(-1, 4)
    curvature = np.zeros((size, size))
    for (i, j), (pp, pm, mp, mm) in zip(pairs, values, strict=True):
        curvature[i, j] = curvature[j, i] = -(pp - pm - mp + mm) / (4 * _STEP**2)
    strengths, directions = np.linalg.eigh(curvature)
    return directions / np.sqrt(np.maximum(strengths, _FLATTEST))


@dataclass(frozen=True)
class Proposal:
    """A mixture of t distributions around the mode that has a long tail in each coordinate's own direction.

    A log sd near zero, or log odds of a variance, falls off far more slowly on one side than its curvature at the mode
    says. One part of the mixture follows the curvature; each of the others is stretched along the line on which one
    coordinate moves and the rest follow it.
    """

    mode: Floats
    weights: Floats
    scales: Floats

    @classmethod
    def around(cls, mode: Floats, spread: Floats) -> "Proposal":
        """Build the mixture from the mode and a square root of the inverse curvature there."""
        covariance = _WIDEN**2 * spread @ spread.T
        parts = [covariance]
        for column, variance in zip(covariance.T, np.diag(covariance), strict=True):
            parts.append(covariance + _STRETCH**2 * np.outer(column, column) / variance)
        weights = np.full(len(parts), (1 - _CENTRAL) / len(mode))
        weights[0] = _CENTRAL
        return cls(mode, weights, np.linalg.cholesky(np.array(parts)))

    def nodes(self, uniform: Floats) -> Floats:
        """Turn rows of d + 2 uniform numbers into nodes: one number picks the part, one the t's radius."""
        size = len(self.mode)
        radius = np.sqrt(_TAIL / chi2.ppf(uniform[:, size], _TAIL))
        steps = ndtri(uniform[:, :size]) * radius[:, None]
        part = np.minimum(np.searchsorted(np.cumsum(self.weights), uniform[:, size + 1]), len(self.weights) - 1)
        return self.mode + np.einsum("kij,kj->ki", self.scales[part], steps)

    def log_density(self, nodes: Floats) -> Floats:
        """Log density of the mixture, up to a constant."""
        size = len(self.mode)
        away = np.broadcast_to((nodes - self.mode).T, (len(self.weights), size, len(nodes)))
        squared = (np.linalg.solve(self.scales, away) ** 2).sum(axis=1)
        volumes = np.log(np.diagonal(self.scales, axis1=1, axis2=2)).sum(axis=1)
        parts = np.log(self.weights) - volumes - (_TAIL + size) / 2 * np.log1p(squared.T / _TAIL)
        return logsumexp(parts, axis=1)


def _importance(
    criterion: Criterion, mode: Floats, spread: Floats, rules: FitRules, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Add batches of nodes until they are worth as many draws as wanted, or the batches are used up."""
    proposal = Proposal.around(mode, spread)
    points = qmc.Sobol(len(mode) + 2, scramble=True, rng=rng)
    nodes, weights = np.zeros((0, len(mode))), np.zeros(0)
    for _ in range(rules.most_batches):
        batch = proposal.nodes(np.clip(points.random(rules.batch), 1e-9, 1 - 1e-9))
        log_weight = criterion.log_density(batch) - proposal.log_density(batch)
        nodes, weights = np.vstack([nodes, batch]), np.concatenate([weights, log_weight])
        if effective_number(weights) >= rules.wanted_effective:
            break
    return nodes, weights


def _systematic(weights: Floats, n_draws: int, rng: np.random.Generator) -> NDArray[np.int64]:
    """Draw indices in proportion to weights with one random offset, in random order."""
    edges = np.cumsum(weights) / weights.sum()
    chosen = np.searchsorted(edges, (np.arange(n_draws) + rng.random()) / n_draws)
    return rng.permutation(np.minimum(chosen, len(weights) - 1))


def _chains(
    criterion: Criterion, start: Floats, spread: Floats, rules: FitRules, rng: np.random.Generator, n_before: int
) -> Nodes:
    """Advance 64 chains by differences of two others (ter Braak 2006, Statistics and Computing 16, 239-249)."""
    kept: list[Floats] = []
    points, values = start, criterion.log_density(start)
    n_steps = 0
    for stage in range(_MOST_STAGES):
        for step in range(200):
            points, values = _advance(criterion, points, values, spread, rng)
            if stage > 0 and step % 4 == 0:
                kept.append(points)
        n_steps += 200
        effective = _chain_effective(np.array(kept)) if kept else 0.0
        if effective >= (2 if stage < _EASY_STAGES else 1) * rules.fewest_effective:
            break
    if effective < rules.fewest_effective:
        raise NoConvergence(f"the chains are worth {effective:.0f} draws; {rules.fewest_effective} are demanded")
    pool = np.concatenate(kept)
    chosen = rng.choice(len(pool), rules.draws, replace=len(pool) < rules.draws)
    return Nodes(criterion.to_log_sds(pool[chosen]), "chains", effective, n_before + n_steps * len(start))


def _advance(
    criterion: Criterion, points: Floats, values: Floats, spread: Floats, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    n_chains, size = points.shape
    # Two others for each chain, none of them itself: offsets on a ring, in random order.
    first = rng.integers(1, n_chains, n_chains)
    second = (first + rng.integers(0, n_chains - 2, n_chains)) % (n_chains - 1) + 1
    own = np.arange(n_chains)
    factor = np.where(rng.random(n_chains) < 0.1, 1.0, 2.38 / np.sqrt(2 * size))
    difference = points[(own + first) % n_chains] - points[(own + second) % n_chains]
    proposal = points + factor[:, None] * difference + 1e-4 * rng.standard_normal(points.shape)
    jump = np.flatnonzero(rng.random(n_chains) < 0.2)
    proposal[jump] = points[jump] + 1.2 * rng.standard_normal((len(jump), size)) @ spread.T
    proposed = criterion.log_density(proposal)
    accept = np.log(rng.random(n_chains)) < proposed - values
    return np.where(accept[:, None], proposal, points), np.where(accept, proposed, values)


def _chain_effective(kept: Floats) -> float:
    """Effective number from how much the means of the chains differ, for the worst sd (kept: steps x chains x d)."""
    _, n_chains, size = kept.shape
    total = kept.reshape(-1, size).var(axis=0)
    between = kept.mean(axis=0).var(axis=0, ddof=1)
    return float((total / np.maximum(between, 1e-300)).min() * n_chains)
