"""Log posterior of the standard deviations with every effect integrated out, for many nodes at once."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_expit

from pooling.hierarchy.pool import ChannelPool

Floats = NDArray[np.float64]

_DEEPEST, _HIGHEST = 9.0, 4.0
"""How far a log sd may lie below and above the log of its prior scale."""

_SHARE_LIMIT = 12.0
"""How far the log odds of a share of variance may lie from 0."""


@dataclass(frozen=True)
class Criterion:
    """The model of one channel.

    ``y ~ N(mu * level, sum_j sd_j^2 P_j + fixed)`` with mu under a flat prior; sums of squares are scaled chi-squares;
    each sd has a half-t prior with 4 degrees of freedom. Nodes are rows of log sds, one column a name.
    """

    pool: ChannelPool
    names: tuple[str, ...]
    scales: Floats
    patterns: Floats
    held_patterns: Floats

    @classmethod
    def of(
        cls, pool: ChannelPool, *, scale: float, who_chose: float, hold_who_chose: float | None = None
    ) -> "Criterion":
        """Build the criterion.

        scale is the prior scale of every sd; who_chose multiplies it for the sd of "who chose this cell" (0 leaves it
        out); hold_who_chose fixes that sd instead, in units of the prior scale: a large value leaves only the wearers'
        own differences to decide between cells.
        """
        n_cells, n_rows = pool.n_cells, len(pool.y)
        to_rows = pool.to_rows
        patterns = dict(pool.errors) | {name: to_rows @ pattern @ to_rows.T for name, pattern in pool.effects.items()}
        chosen = np.zeros((n_rows, n_rows))
        chosen[:n_cells, :n_cells] = np.eye(n_cells)
        held = np.zeros_like(chosen)
        scales = dict.fromkeys(patterns, scale)
        if hold_who_chose is not None:
            held = (hold_who_chose * scale) ** 2 * chosen
        elif who_chose > 0:
            patterns["who_chose"] = chosen
            scales["who_chose"] = scale * who_chose
        return cls(
            pool,
            tuple(patterns),
            np.array([scales[name] for name in patterns]),
            np.array([patterns[name] for name in patterns]),
            pool.fixed + held,
        )

    @property
    def bounds(self) -> Floats:
        """Lowest and highest coordinate per name (d x 2)."""
        bounds = np.log(self.scales)[:, None] + np.array([-_DEEPEST, _HIGHEST])
        bounds[[odds for _, odds in self._pairs]] = (-_SHARE_LIMIT, _SHARE_LIMIT)
        return bounds

    @property
    def start(self) -> Floats:
        """Coordinates where every sd is half of its prior scale."""
        return self.to_coordinates(np.log(self.scales / 2)[None])[0]

    @property
    def _pairs(self) -> tuple[tuple[int, int], ...]:
        """Positions of two pairs of sds whose summed variance the data know far better than either.

        Person and person-by-cell differ only through people at several cells; the finest effect of cells and "who
        chose" only through ties.
        """
        pairs = [("person", "person_cell")]
        if "who_chose" in self.names:
            pairs.append(("site_model" if "site_model" in self.names else "site", "who_chose"))
        return tuple((self.names.index(first), self.names.index(second)) for first, second in pairs)

    def to_coordinates(self, log_sds: Floats) -> Floats:
        """Replace the log sds of each pair by half the log of their summed variance and the log odds of the first.

        Nodes laid around the mode in these coordinates follow the ridge that a well-known sum makes of two log sds.
        """
        points = log_sds.copy()
        for whole, odds in self._pairs:
            first, second = 2 * log_sds[:, whole], 2 * log_sds[:, odds]
            points[:, whole] = np.logaddexp(first, second) / 2
            points[:, odds] = first - second
        return points

    def to_log_sds(self, points: Floats) -> Floats:
        """Inverse of to_coordinates; its Jacobian is constant, so densities need no correction."""
        log_sds = points.copy()
        for whole, odds in self._pairs:
            log_sds[:, whole] = points[:, whole] + log_expit(points[:, odds]) / 2
            log_sds[:, odds] = points[:, whole] + log_expit(-points[:, odds]) / 2
        return log_sds

    def covariance(self, nodes: Floats) -> Floats:
        """Covariance of the rows at each node (K x D x D)."""
        variances = np.exp(2 * nodes)
        flat = variances @ self.patterns.reshape(len(self.names), -1)
        return flat.reshape(len(nodes), *self.held_patterns.shape) + self.held_patterns

    def log_density(self, points: Floats) -> Floats:
        """Log posterior density at each of K points (K x d, coordinates); -inf outside the bounds."""
        low, high = self.bounds.T
        inside = ((points >= low) & (points <= high)).all(axis=1)
        values = np.full(len(points), -np.inf)
        if inside.any():
            values[inside] = self.log_posterior(self.to_log_sds(points[inside]))
        return values

    def log_posterior(self, nodes: Floats) -> Floats:
        """Log posterior density of log sds, up to a constant, at each of K nodes.

        Parameters
        ----------
        nodes : ndarray, shape (K, d)
            Log sds.

        Returns
        -------
        ndarray, shape (K,)
        """
        return self._log_likelihood(nodes) + self._squares(nodes) + self._log_prior(nodes)

    def _log_likelihood(self, nodes: Floats) -> Floats:
        covariance = self.covariance(nodes)
        factor = np.linalg.cholesky(covariance)
        log_determinant = 2 * np.log(np.diagonal(factor, axis1=1, axis2=2)).sum(axis=1)
        right = np.column_stack([self.pool.y, self.pool.level])
        solved = np.linalg.solve(covariance, right)
        gram = right.T @ solved
        quadratic = gram[:, 0, 0] - gram[:, 0, 1] ** 2 / gram[:, 1, 1]
        return -0.5 * (log_determinant + np.log(gram[:, 1, 1]) + quadratic)

    def expected_squares(self, nodes: Floats) -> Floats:
        """Expected sum of squares per term at each node (K x terms)."""
        variances = np.exp(2 * nodes[:, [self.names.index(name) for name in ("person", "person_cell", "wear")]])
        factors = np.array([term.expected for term in self.pool.squares]).reshape(-1, 4)
        return variances @ factors[:, :3].T + factors[:, 3]

    def _squares(self, nodes: Floats) -> Floats:
        terms = [term for term in self.pool.squares if term.freedom > 0]
        if not terms:
            return np.zeros(len(nodes))
        kept = [term.freedom > 0 for term in self.pool.squares]
        expected = self.expected_squares(nodes)[:, kept]
        freedom = np.array([term.freedom for term in terms])
        observed = np.array([term.value for term in terms])
        return -0.5 * (freedom * np.log(expected) + freedom * observed / expected).sum(axis=1)

    def _log_prior(self, nodes: Floats) -> Floats:
        """Half-t with 4 degrees of freedom on the sd, as a density of its logarithm."""
        return (-2.5 * np.log1p((np.exp(nodes) / self.scales) ** 2 / 4) + nodes).sum(axis=1)
