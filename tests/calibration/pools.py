"""Invented pools with known truth: people, sites, wears and readings drawn from a stated law."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.stats import t as student

from pooling.hierarchy.closedforms import LARGEST_SD, expected_relative_difference, probability_within
from pooling.ledger import PlannedTie, plan_ties
from pooling.sealing import Cell, Member

Floats = NDArray[np.float64]
TAIL, CLIP = 5, 7.0
_LEVELS = (np.arange(4001) + 0.5) / 4001
TAIL_POINTS = np.clip(student.ppf(_LEVELS, TAIL), -CLIP, CLIP)
TAIL_SD = float(TAIL_POINTS.std())


@dataclass(frozen=True)
class Stratum:
    """Sums over one wear's pairs, computed here from raw log ratios, independently of the product's own summary."""

    n_pairs: int
    m: float
    s: float
    m4: float
    a1: float
    a2: float
    k15: int
    k20: int

    @classmethod
    def of(cls, log_ratios: Floats) -> "Stratum":
        """Add up log ratios."""
        mean = log_ratios.mean()
        centred, difference = log_ratios - mean, np.abs(np.expm1(log_ratios))
        return cls(
            len(log_ratios),
            float(mean),
            float((centred**2).sum()),
            float((centred**4).sum()),
            float(difference.sum()),
            float((difference**2).sum()),
            int((difference <= 0.15).sum()),
            int((difference <= 0.20).sum()),
        )


@dataclass(frozen=True)
class Summary:
    """What sealing reads of a wear summary for accuracy."""

    strata: dict[str, Stratum]
    zones: tuple[int, ...] = (0, 0, 0, 0, 0)
    crossed: dict[int, object] = field(default_factory=dict)


@dataclass(frozen=True)
class Truth:
    """Parameters of one invented pool. Location in log units; spread is the log variance of readings."""

    location: Floats
    log_variance: Floats
    location_sds: tuple[float, float, float]
    spread_sds: tuple[float, float, float]
    heavy: bool = True

    @classmethod
    def drawn(cls, n_cells: int, rng: np.random.Generator, *, heavy: bool = True) -> "Truth":
        """Draw a plausible truth."""

        def around(*centres: float) -> tuple[float, float, float]:
            return tuple(centre * float(np.exp(rng.normal(0, 0.3))) for centre in centres)

        return cls(
            rng.normal(0, 0.03, n_cells),
            2 * np.log(0.09) + rng.normal(0, 0.25, n_cells),
            around(0.04, 0.02, 0.03),
            around(0.35, 0.15, 0.25),
            heavy,
        )

    def _average(self, formula) -> Floats:
        """Average over a wear's log variance (15 Gauss-Hermite nodes) and the tail; wears' locations in closed form."""
        nodes, weights = np.polynomial.hermite_e.hermegauss(15)
        sds = np.exp(0.5 * (self.log_variance[:, None] + np.linalg.norm(self.spread_sds) * nodes))
        tau = np.linalg.norm(self.location_sds)
        if self.heavy:
            means = self.location[:, None, None] + np.minimum(sds, LARGEST_SD)[:, :, None] * TAIL_POINTS / TAIL_SD
            inner = formula(means, tau).mean(axis=2)
        else:
            inner = formula(self.location[:, None], np.sqrt(tau**2 + sds**2))
        return inner @ weights / weights.sum()

    def mard(self) -> Floats:
        """Expected |sensor / reference - 1| per cell, were everybody to wear it there (a fraction)."""
        return self._average(expected_relative_difference)

    def rate(self, band: float) -> Floats:
        """Share of readings within the band, per cell."""
        return self._average(lambda mean, sd: probability_within(mean, sd, band))


@dataclass(frozen=True)
class Wear:
    """One simulated wear."""

    person: int
    cell: int
    stratum: Stratum


@dataclass
class Pool:
    """Wears of one pool, and the truth they were drawn from."""

    truth: Truth
    n_people: int
    wears: list[Wear] = field(default_factory=list)

    def members(self, wears: list[Wear]) -> list[Member]:
        """Turn wears into members; each person is an own account."""
        return [Member(f"p{wear.person:04d}", f"a{wear.person:04d}", Summary({"all": wear.stratum})) for wear in wears]

    def people_at(self, cell: int) -> list[int]:
        """People with a wear at the cell, ascending."""
        return sorted({wear.person for wear in self.wears if wear.cell == cell})

    def blocks(self, *, k: int = 5) -> list[tuple[Cell, list[Member]]]:
        """Everybody at a cell as one block; a cell with fewer than k people has none."""
        at = {index: [wear for wear in self.wears if wear.cell == index] for index in range(len(self.truth.location))}
        return [
            (Cell("everyone", place_name(index)), self.members(wears))
            for index, wears in at.items()
            if len(self.people_at(index)) >= k
        ]


def ties_between(blocks: list[tuple[Cell, list[Member]]], *, k: int = 5) -> tuple[PlannedTie, ...]:
    """Ties of one cut-off in which every account has one wearer."""
    cells_of: dict[str, set[Cell]] = {}
    for cell, members in blocks:
        for member in members:
            cells_of.setdefault(member.person, set()).add(cell)
    return plan_ties(cells_of, k)


def place_name(index: int) -> str:
    """Name of an invented place; sorts like its index."""
    return f"place{index:02d}"


def simulate(
    rng: np.random.Generator, *, n_people: int, n_cells: int, confounding: float = 1.0, heavy: bool = True
) -> Pool:
    """Draw a pool: 1 to 3 cells a person, 1 + Poisson(1) wears a cell, 8 to 200 pairs a wear.

    With confounding, people whose readings spread more prefer the last cells and people whose readings run high the
    first: a plain comparison of cells then compares people.
    """
    truth = Truth.drawn(n_cells, rng, heavy=heavy)
    pool = Pool(truth, n_people)
    ta, tb, tc = truth.location_sds
    ou, ov, ot = truth.spread_sds
    slope = np.linspace(-1, 1, n_cells)
    for person in range(n_people):
        location, spread = rng.normal(0, ta), rng.normal(0, ou)
        liking = confounding * (1.5 * spread / ou - 0.7 * location / ta) * slope
        odds = np.exp(liking - liking.max())
        chosen = rng.choice(n_cells, min(1 + rng.binomial(2, 0.4), n_cells), replace=False, p=odds / odds.sum())
        for cell in chosen:
            at_cell, spread_at_cell = location + rng.normal(0, tb), spread + rng.normal(0, ov)
            for _ in range(1 + rng.poisson(1.0)):
                n = int(np.clip(np.exp(rng.normal(3.2, 0.9)), 8, 200))
                noise = rng.standard_normal(n)
                if heavy:
                    noise = np.clip(rng.standard_t(TAIL, n), -CLIP, CLIP) / TAIL_SD
                sd = np.exp(0.5 * (truth.log_variance[cell] + spread_at_cell + rng.normal(0, ot)))
                log_ratios = truth.location[cell] + at_cell + rng.normal(0, tc) + sd * noise
                pool.wears.append(Wear(person, int(cell), Stratum.of(log_ratios)))
    return pool
