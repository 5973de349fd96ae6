"""The individual-level fit that the fit of sums is measured against: it sees every wear of every person.

The model is that of the sums, on single wears: z = cell + person + person at the cell + wear + known noise, and a part
that goes with which cells a person wears (the mean over the person's cells of one number a cell), so that who chose a
site is not taken for the site. Standard deviations have the half-t priors of the production fit and are integrated over
with its integrator, which `tests.referee.joint` checks by another way. Everything else is closed form: units and people
are eliminated, wears by wears matrices never formed.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import digamma, polygamma

from pooling.hierarchy import FitRules
from pooling.hierarchy.closedforms import Mixture
from pooling.hierarchy.integration import integrate

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
NAMES = ("wear", "person_cell", "person", "site", "who_chose")
WEAR, UNIT, PERSON, SITE, CHOSE = range(5)
SCALES = {"location": 0.05, "dispersion": 0.5, "direct": 0.4}
RULES = FitRules(wanted_effective=200, batch=128)
_CHUNK = 64


@dataclass(frozen=True)
class Wears:
    """Sums over the pairs of each wear; person and cell are whole numbers, cells from 0 up."""

    person: Ints
    cell: Ints
    n_pairs: Floats
    mean: Floats
    squares: Floats
    fourth: Floats
    mean_difference: Floats
    difference_squares: Floats

    @classmethod
    def of(cls, rows: Sequence, cells: Sequence[int]) -> "Wears":
        """Take wears (person, cell, stratum) at some cells; the cells are numbered as they stand."""
        number = {cell: index for index, cell in enumerate(cells)}
        kept = sorted((row for row in rows if row.cell in number), key=lambda row: (row.person, number[row.cell]))
        strata = [row.stratum for row in kept]
        n = np.array([s.n_pairs for s in strata], dtype=np.float64)
        a1, a2 = np.array([(s.a1, s.a2) for s in strata]).T
        return cls(
            np.array([row.person for row in kept]),
            np.array([number[row.cell] for row in kept]),
            n,
            np.array([s.m for s in strata]),
            np.array([s.s for s in strata]),
            np.array([s.m4 for s in strata]),
            a1 / n,
            a2 - a1 * a1 / n,
        )

    @property
    def kurtosis(self) -> float:
        """Pooled excess kurtosis: k4 over k2 squared, weighted by pairs, its expectation corrected; 0 to 12."""
        kept = self.n_pairs >= 8
        n, second = self.n_pairs[kept], self.squares[kept] / self.n_pairs[kept]
        fourth, k2 = self.fourth[kept] / n, self.squares[kept] / (n - 1)
        k4 = n**2 * ((n + 1) * fourth - 3 * (n - 1) * second**2) / ((n - 1) * (n - 2) * (n - 3))
        raw = value = float((n * k4 / k2**2).sum() / n.sum())
        for _ in range(5):
            value = max(0.0, raw * (1 + float((n * (2 / (n - 1) + value / n)).sum() / n.sum())))
        return min(value, 12.0)


@dataclass(frozen=True)
class Layout:
    """Who wore what, sorted: wears into units (a person at a cell), units into people."""

    unit_start: Ints
    unit_person: Ints
    person_start: Ints
    columns: Floats
    share: Floats
    n_cells: int

    @classmethod
    def of(cls, wears: Wears) -> "Layout":
        """Lay out sorted wears."""
        person, cell = wears.person, wears.cell
        new_person = np.append(True, person[1:] != person[:-1])
        unit_start = np.flatnonzero(new_person | np.append(True, cell[1:] != cell[:-1]))
        person_start = np.flatnonzero(new_person[unit_start])
        n_cells = int(cell.max()) + 1
        own = np.eye(n_cells)[cell[unit_start]]
        n_units = np.diff(np.append(person_start, len(unit_start)))
        shares = np.add.reduceat(own, person_start) / n_units[:, None]
        unit_person = np.repeat(np.arange(len(person_start)), n_units)
        columns = np.hstack([np.ones((len(unit_start), 1)), own, shares[unit_person]])
        return cls(unit_start, unit_person, person_start, columns, shares.mean(axis=0), n_cells)

    @property
    def at_cell(self) -> Floats:
        """Cells x cells: mean shares of the people at each cell."""
        own, shares = self.columns[:, 1 : self.n_cells + 1], self.columns[:, self.n_cells + 1 :]
        return own.T @ shares / own.sum(axis=0)[:, None]

    @property
    def people_share(self) -> Floats:
        """Share of people per cell."""
        people = self.columns[:, 1 : self.n_cells + 1].sum(axis=0)
        return people / people.sum()

    def level(self, beta: Floats) -> Floats:
        """What a new person can expect at each cell, from draws of the coefficients."""
        chosen = beta[:, self.n_cells + 1 :] @ self.share
        return (beta[:, 0] + chosen)[:, None] + beta[:, 1 : self.n_cells + 1]

    def chosen_variance(self, beta: Floats, weights: Floats) -> Floats:
        """Variance between cells of who chose them."""
        effects = beta[:, self.n_cells + 1 :] @ self.at_cell.T
        return (effects**2) @ weights - (effects @ weights) ** 2


@dataclass(frozen=True)
class Solved:
    """Units and people eliminated at K nodes: log likelihood, and mean and precision factor of scaled coefficients."""

    log_likelihood: Floats
    mean: Floats
    factor: Floats
    scale: Floats

    def draw(self, rng: np.random.Generator) -> Floats:
        """One draw of the coefficients a node."""
        normal = rng.standard_normal((*self.mean.shape, 1))
        return self.scale * (self.mean + np.linalg.solve(np.swapaxes(self.factor, 1, 2), normal)[:, :, 0])


def solve(layout: Layout, value: Floats, noise: Floats, log_sds: Floats) -> Solved:
    """Integrate effects out at each node.

    Parameters
    ----------
    layout : Layout
    value, noise : ndarray, (n_wears,) or (K, n_wears)
        Value of each wear and the variance of its noise, the same for all nodes or one row a node.
    log_sds : ndarray, (K, 5)
        In the order of NAMES.
    """
    variances = np.exp(2 * log_sds)
    wear, unit, person = (variances[:, index, None] for index in (WEAR, UNIT, PERSON))
    spread = wear + noise
    weight = 1 / spread
    weighted = value * weight
    h = np.add.reduceat(weight, layout.unit_start, axis=1)
    m = np.add.reduceat(weighted, layout.unit_start, axis=1)
    left = 1 / (1 + unit * h)
    quad = (value * weighted).sum(axis=1) - (unit * left * m**2).sum(axis=1)
    log_det = np.log(spread).sum(axis=1) - np.log(left).sum(axis=1)
    h, m = h * left, m * left
    person_h, person_m = (np.add.reduceat(part, layout.person_start, axis=1) for part in (h, m))
    log_det += np.log1p(person * person_h).sum(axis=1)
    shrink = person / (1 + person * person_h)
    quad -= (shrink * person_m**2).sum(axis=1)

    columns, size = layout.columns, layout.columns.shape[1]
    products = (columns[:, :, None] * columns[:, None, :]).reshape(len(columns), -1)
    by_person = np.add.reduceat(h[:, :, None] * columns, layout.person_start, axis=1)
    held = by_person * shrink[:, :, None]
    normal = (h @ products).reshape(-1, size, size) - np.swapaxes(held, 1, 2) @ by_person
    score = m @ columns - (person_m[:, None, :] @ held)[:, 0]

    sds = np.exp(log_sds)
    scale = np.ones((len(log_sds), size))
    scale[:, 1 : layout.n_cells + 1] = sds[:, SITE, None]
    scale[:, layout.n_cells + 1 :] = sds[:, CHOSE, None]
    normal = normal * scale[:, :, None] * scale[:, None, :]
    normal[:, range(1, size), range(1, size)] += 1
    factor = np.linalg.cholesky(normal)
    right = (scale * score)[:, :, None]
    mean = np.linalg.solve(normal, right)
    log_det += 2 * np.log(np.diagonal(factor, axis1=1, axis2=2)).sum(axis=1)
    quad -= (right * mean).sum(axis=(1, 2))
    return Solved(-0.5 * (log_det + quad), mean[:, :, 0], factor, scale)


@dataclass(frozen=True)
class Criterion:
    """Log posterior of the log sds of one channel, as the production integrator asks for it."""

    layout: Layout
    value: Floats
    noise: Floats
    scale: float
    names: tuple[str, ...] = NAMES

    @property
    def bounds(self) -> Floats:
        """Lowest and highest log sd."""
        return np.tile(np.log(self.scale) + np.array([-9.0, 4.0]), (len(NAMES), 1))

    @property
    def start(self) -> Floats:
        """Half the prior scale."""
        return np.full(len(NAMES), np.log(self.scale / 2))

    def to_log_sds(self, points: Floats) -> Floats:
        """Coordinates are log sds."""
        return points

    def log_density(self, points: Floats) -> Floats:
        """Log posterior at each node; -inf outside the bounds."""
        low, high = self.bounds.T
        inside = ((points >= low) & (points <= high)).all(axis=1)
        values = np.full(len(points), -np.inf)
        for chunk in np.array_split(np.flatnonzero(inside), max(1, inside.sum() // _CHUNK)):
            if len(chunk):
                solved = solve(self.layout, self.value, self.noise, points[chunk])
                values[chunk] = solved.log_likelihood + log_prior(points[chunk], self.scale)
        return values


def log_prior(log_sds: Floats, scale: float) -> Floats:
    """Half-t with 4 degrees of freedom on every sd, as a density of its logarithm."""
    return (-2.5 * np.log1p((np.exp(log_sds) / scale) ** 2 / 4) + log_sds).sum(axis=1)


@dataclass(frozen=True)
class Posterior:
    """Draws of the coefficients (mean, cells, who chose) and of the sds of one channel."""

    beta: Floats
    sds: Floats

    @classmethod
    def of(cls, criterion: Criterion, rng: np.random.Generator) -> "Posterior":
        """Integrate, and draw coefficients at every node drawn."""
        nodes = integrate(criterion, RULES, rng).draws
        parts = [
            solve(criterion.layout, criterion.value, criterion.noise, nodes[start : start + _CHUNK]).draw(rng)
            for start in range(0, len(nodes), _CHUNK)
        ]
        return cls(np.concatenate(parts), np.exp(nodes))

    @property
    def between(self) -> Floats:
        """Variance of people, people at a cell and wears together."""
        return (self.sds[:, :SITE] ** 2).sum(axis=1)


def smoothed(criterion: Criterion, posterior: Posterior) -> Floats:
    """Best prediction of each wear's own true value at the medians of the posterior."""
    layout, noise, value = criterion.layout, criterion.noise, criterion.value
    variance = np.median(posterior.sds, axis=0) ** 2
    eta = layout.columns @ np.median(posterior.beta, axis=0)
    weight = 1 / (variance[WEAR] + noise)
    h, m = (np.add.reduceat(part, layout.unit_start) for part in (weight, value * weight))
    left = 1 / (1 + variance[UNIT] * h)
    kept, kept_m = h * left, m * left
    person_h, person_m = (np.add.reduceat(part, layout.person_start) for part in (kept, kept_m - kept * eta))
    person = variance[PERSON] * person_m / (1 + variance[PERSON] * person_h)
    centre = eta + person[layout.unit_person]
    unit = centre + variance[UNIT] * left * (m - h * centre)
    own = np.repeat(unit, np.diff(np.append(layout.unit_start, len(value))))
    return own + variance[WEAR] * weight * (value - own)


def log_variances(wears: Wears, kurtosis: float) -> tuple[Floats, Floats]:
    """Log variance of each wear, unbiased, and the variance of its noise under the given excess kurtosis."""
    n, freedom = wears.n_pairs, wears.n_pairs - 1
    bias = digamma(freedom / 2) - np.log(freedom / 2)
    return np.log(wears.squares / freedom) - bias + kurtosis / (2 * n), polygamma(1, freedom / 2) + kurtosis / n


@dataclass(frozen=True)
class Referee:
    """Draws x cells of expected MARD as fractions: anchored on the direct channel, and composite alone."""

    mard: Floats
    composite: Floats
    location: Floats


def fit_individual(wears: Wears, rng: np.random.Generator, *, kurtosis: float | None = None) -> Referee:
    """Fit location, dispersion and the direct channel, and put them together."""
    layout = Layout.of(wears)
    share = layout.people_share
    kurtosis = wears.kurtosis if kurtosis is None else kurtosis
    value, noise = log_variances(wears, kurtosis)
    spread = Criterion(layout, value, noise, SCALES["dispersion"])
    dispersion = Posterior.of(spread, rng)
    # Weights from a smoothed variance: a wear's own would favour wears that happen to look good.
    own = np.exp(smoothed(spread, dispersion))
    location = Posterior.of(Criterion(layout, wears.mean, own / wears.n_pairs, SCALES["location"]), rng)
    direct, scale = _direct(wears, layout, rng)
    composite = mixture(layout, location, dispersion, kurtosis).mean_relative_difference()
    level = np.maximum(scale * layout.level(direct.beta) @ share, 1e-3)
    return Referee(composite * (level / (composite @ share))[:, None], composite, layout.level(location.beta))


def mixture(layout: Layout, location: Posterior, dispersion: Posterior, kurtosis: float) -> Mixture:
    """The law of a reading of a new person at each cell."""
    share = layout.people_share
    return Mixture(
        location=layout.level(location.beta),
        location_variance=(location.between + layout.chosen_variance(location.beta, share))[:, None],
        log_variance=layout.level(dispersion.beta),
        log_variance_variance=(dispersion.between + layout.chosen_variance(dispersion.beta, share))[:, None],
        kurtosis=kurtosis,
    )


def _direct(wears: Wears, layout: Layout, rng: np.random.Generator) -> tuple[Posterior, float]:
    """The direct channel as a share of its own mean; the squared coefficient of variation of readings is pooled."""
    n, mean = wears.n_pairs, wears.mean_difference
    own = wears.difference_squares / (n - 1)
    relative = float((own * n).sum() / ((mean**2 - own / n) * n).sum())
    scale = float(np.average(mean, weights=n))
    return Posterior.of(Criterion(layout, mean / scale, relative / n, SCALES["direct"]), rng), scale
