"""Another way to the individual-level posterior: location and dispersion sampled together from the readings' own law.

The fit in `tests.referee.individual` treats a wear's log variance as a normal number with known noise, and weighs
locations by smoothed variances that it then takes for known. Here nothing is approximated: a wear's mean is normal and
its sum of squares chi-square, both given its own unknown log variance, and all is sampled. Readings are normal.
"""

from dataclasses import dataclass

import numpy as np

from tests.referee.individual import (
    PERSON,
    SCALES,
    UNIT,
    WEAR,
    Criterion,
    Floats,
    Layout,
    Posterior,
    Wears,
    log_prior,
    log_variances,
    mixture,
    smoothed,
    solve,
)

_NEWTON_STEPS = 8


@dataclass
class _Channel:
    """Chains of one channel: log sds a chain (rows), and a square root of the covariance to propose with."""

    layout: Layout
    scale: float
    log_sds: Floats
    root: Floats

    @classmethod
    def of(cls, layout: Layout, channel: str, posterior: Posterior, n_chains: int, rng: np.random.Generator):
        """Start from draws of the other fit; chains forget them."""
        logs = np.log(posterior.sds)
        root = np.linalg.cholesky(np.cov(logs.T) + 1e-4 * np.eye(logs.shape[1]))
        return cls(layout, SCALES[channel], logs[rng.integers(len(logs), size=n_chains)], root)

    def advance(self, value: Floats, noise: Floats, rng: np.random.Generator) -> Floats:
        """Move the log sds with every effect integrated out, then draw the coefficients."""
        found = solve(self.layout, value, noise, self.log_sds)
        for step in (1.0, 0.4, 1.0):
            proposed = self.log_sds + step * rng.standard_normal(self.log_sds.shape) @ self.root.T
            other = solve(self.layout, value, noise, proposed)
            gain = other.log_likelihood + log_prior(proposed, self.scale)
            gain -= found.log_likelihood + log_prior(self.log_sds, self.scale)
            moved = np.log(rng.random(len(gain))) < gain
            self.log_sds = np.where(moved[:, None], proposed, self.log_sds)
            found = solve(self.layout, value, noise, self.log_sds)
        return found.draw(rng)

    def effects(self, beta: Floats, value: Floats, noise: Floats, rng: np.random.Generator) -> Floats:
        """Draw what each wear's own value scatters around: cell, person, and person at the cell."""
        layout = self.layout
        variance = np.exp(2 * self.log_sds)
        wear, unit, person = (variances[:, None] for variances in variance[:, [WEAR, UNIT, PERSON]].T)
        weight = 1 / (wear + noise)
        h = np.add.reduceat(weight, layout.unit_start, axis=1)
        m = np.add.reduceat(value * weight, layout.unit_start, axis=1)
        left = 1 / (1 + unit * h)
        eta = beta @ layout.columns.T
        precision = 1 / person + np.add.reduceat(h * left, layout.person_start, axis=1)
        people = np.add.reduceat((m - h * eta) * left, layout.person_start, axis=1) / precision
        people += rng.standard_normal(people.shape) / np.sqrt(precision)
        centre = eta + people[:, layout.unit_person]
        precision = 1 / unit + h
        centre += (m - h * centre) / precision + rng.standard_normal(h.shape) / np.sqrt(precision)
        return np.repeat(centre, np.diff(np.append(layout.unit_start, value.shape[-1])), axis=1)


def sample_jointly(
    wears: Wears, rng: np.random.Generator, *, n_chains: int = 24, warm_up: int = 100, steps: int = 300
) -> Floats:
    """Draws x cells of composite MARD as fractions."""
    layout = Layout.of(wears)
    spread, dispersion, location = _start(wears, layout, rng)
    of_location = _Channel.of(layout, "location", location, n_chains, rng)
    of_dispersion = _Channel.of(layout, "dispersion", dispersion, n_chains, rng)
    logs = np.tile(smoothed(spread, dispersion), (n_chains, 1))
    mean, n, nothing = wears.mean[None], wears.n_pairs, np.zeros_like(logs)
    kept = []
    for step in range(warm_up + steps):
        noise = np.exp(logs) / n
        beta = of_location.advance(mean, noise, rng)
        around = of_location.effects(beta, mean, noise, rng)
        wear = np.exp(2 * of_location.log_sds[:, WEAR])[:, None]
        precision = 1 / wear + 1 / noise
        own = (around / wear + mean / noise) / precision + rng.standard_normal(noise.shape) / np.sqrt(precision)
        squares = wears.squares + n * (mean - own) ** 2
        for _ in range(2):
            gamma = of_dispersion.advance(logs, nothing, rng)
            centre = of_dispersion.effects(gamma, logs, nothing, rng)
            logs = _log_variances(logs, centre, np.exp(2 * of_dispersion.log_sds[:, WEAR])[:, None], n, squares, rng)
        if step >= warm_up:
            kept.append((beta, np.exp(of_location.log_sds), gamma, np.exp(of_dispersion.log_sds)))
    beta, sds, gamma, spreads = (np.concatenate(part) for part in zip(*kept, strict=True))
    return mixture(layout, Posterior(beta, sds), Posterior(gamma, spreads), 0.0).mean_relative_difference()


def _start(wears: Wears, layout: Layout, rng: np.random.Generator) -> tuple[Criterion, Posterior, Posterior]:
    value, noise = log_variances(wears, 0.0)
    spread = Criterion(layout, value, noise, SCALES["dispersion"])
    dispersion = Posterior.of(spread, rng)
    own = np.exp(smoothed(spread, dispersion)) / wears.n_pairs
    return spread, dispersion, Posterior.of(Criterion(layout, wears.mean, own, SCALES["location"]), rng)


def _log_variances(
    logs: Floats, centre: Floats, variance: Floats, n: Floats, squares: Floats, rng: np.random.Generator
) -> Floats:
    """Draw each wear's log variance: a normal about the mode of its density proposes, Metropolis decides."""
    mode = logs.copy()
    for _ in range(_NEWTON_STEPS):
        half = 0.5 * squares * np.exp(-mode)
        step = (half - 0.5 * n - (mode - centre) / variance) / (half + 1 / variance)
        mode += np.clip(step, -2, 2)
    sd = 1.1 / np.sqrt(0.5 * squares * np.exp(-mode) + 1 / variance)
    proposed = mode + sd * rng.standard_normal(logs.shape)

    def density(at: Floats) -> Floats:
        own = -0.5 * n * at - 0.5 * squares * np.exp(-at) - (at - centre) ** 2 / (2 * variance)
        return own + 0.5 * ((at - mode) / sd) ** 2

    return np.where(np.log(rng.random(logs.shape)) < density(proposed) - density(logs), proposed, logs)
