"""Invented pools of days on the skin, reactions and ratings with known truth."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, logit
from scipy.stats import norm

from pooling.sealing import Cell, Member
from pooling.summary import RatingsGiven
from tests.calibration.pools import Stratum, place_name

Floats = NDArray[np.float64]
NO_PAIRS = Stratum(0, 0.0, 0.0, 0.0, 0.0, 0.0, 0, 0)
RATED_LIFE_DAYS = 14
DAYS = (3, 7, 10, 14)
ENDS = {"fell_off": 0.55, "device_error": 0.2, "removed_skin": 0.15, "removed_other": 0.1}
"""How early ends split, the same at every site."""
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(41)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()


@dataclass(frozen=True)
class Summary:
    """What sealing reads of a wear outside accuracy."""

    worn_min: int = RATED_LIFE_DAYS * 1440
    end_reason: str = "completed"
    skin_grade: int | None = None
    ratings: RatingsGiven = field(default_factory=RatingsGiven)
    strata: dict[str, Stratum] = field(default_factory=lambda: {"all": NO_PAIRS})
    zones: tuple[int, ...] = (0, 0, 0, 0, 0)
    crossed: dict[int, object] = field(default_factory=dict)


@dataclass(frozen=True)
class Truth:
    """Parameters of one pool: each cell's level, and sds of people and people at a cell, on the scale of the law.

    Logit of lasting a rated life, logit of a reaction, points of a rating.
    """

    lasting: Floats
    reaction: Floats
    rating: Floats
    sds: tuple[float, float] = (0.7, 0.4)
    rating_sds: tuple[float, float, float] = (1.2, 0.7, 1.0)

    @classmethod
    def drawn(cls, n_cells: int, rng: np.random.Generator) -> "Truth":
        """Draw a plausible truth: most sensors last, few people react, ratings lie around seven."""
        return cls(
            logit(0.82) + rng.normal(0, 0.45, n_cells),
            logit(0.15) + rng.normal(0, 0.4, n_cells),
            6.8 + rng.normal(0, 0.5, n_cells),
        )

    def _average(self, levels: Floats, transform) -> Floats:
        """Mean over people of a share: what a new wearer can expect."""
        spread = float(np.hypot(*self.sds))
        return transform(levels[:, None] + spread * _NODES) @ _WEIGHTS

    def share_on(self, day: int) -> Floats:
        """Share of wears still on at a day, per cell. The chance to last is spread evenly over the rated life."""
        return self._average(self.lasting, lambda eta: expit(eta) ** (day / RATED_LIFE_DAYS))

    def share_off(self, reason: str) -> Floats:
        """Share of wears that ended early in one way, per cell."""
        return ENDS[reason] * (1 - self.share_on(RATED_LIFE_DAYS))

    def share_reacting(self) -> Floats:
        """Share of people whose skin reacted, per cell."""
        return self._average(self.reaction, expit)

    def mean_rating(self) -> Floats:
        """Mean of a whole-number rating held within 0 to 10, per cell."""
        edges = np.arange(10) + 0.5
        sd = float(np.linalg.norm(self.rating_sds))
        return norm.sf((edges - self.rating[:, None]) / sd).sum(axis=1)


@dataclass(frozen=True)
class Wear:
    """One simulated wear."""

    person: int
    cell: int
    summary: Summary


@dataclass(frozen=True)
class OutcomePool:
    """Wears of one pool, and the truth they were drawn from."""

    truth: Truth
    wears: tuple[Wear, ...]

    def blocks(self, family: str, *, k: int) -> list[tuple[Cell, list[Member]]]:
        """Everybody at a cell as one block; of the skin one wear a person."""
        blocks = []
        for cell in range(len(self.truth.lasting)):
            own = [wear for wear in self.wears if wear.cell == cell]
            if family == "skin":
                own = list({wear.person: wear for wear in own}.values())
            if len({wear.person for wear in own}) >= k:
                members = [Member(f"p{wear.person:04d}", f"a{wear.person:04d}", wear.summary) for wear in own]
                blocks.append((Cell("everyone", place_name(cell), "demo-a14"), members))
        return blocks


def simulate(rng: np.random.Generator, *, n_people: int, n_cells: int, confounding: float = 1.0) -> OutcomePool:
    """Draw a pool: 1 to 3 cells a person, 1 + Poisson(0.7) wears a cell, three at most.

    With confounding, people whose sensors last prefer the first cells; those who react and who rate high, too.
    """
    truth = Truth.drawn(n_cells, rng)
    slope = np.linspace(-1, 1, n_cells)
    wears = []
    for person in range(n_people):
        lasting, reacting = rng.normal(0, truth.sds[0], 2)
        rating = rng.normal(0, truth.rating_sds[0])
        liking = -confounding * (lasting + reacting) / truth.sds[0] * slope / 2
        odds = np.exp(liking - liking.max())
        for cell in rng.choice(n_cells, min(1 + rng.binomial(2, 0.4), n_cells), replace=False, p=odds / odds.sum()):
            at_cell = rng.normal(0, truth.sds[1], 2)
            rating_at_cell = truth.rating[cell] + rating + rng.normal(0, truth.rating_sds[1])
            chance = float(expit(truth.lasting[cell] + lasting + at_cell[0]))
            reacts = float(expit(truth.reaction[cell] + reacting + at_cell[1]))
            for _ in range(min(1 + rng.poisson(0.7), 3)):
                wears.append(Wear(person, int(cell), _summary(rng, chance, reacts, rating_at_cell, truth)))
    return OutcomePool(truth, tuple(wears))


def _summary(rng: np.random.Generator, chance: float, reacts: float, rating: float, truth: Truth) -> Summary:
    """Days worn have the constant hazard that leaves the chance at the rated life."""
    life = RATED_LIFE_DAYS * 1440
    worn = life * np.log(rng.random()) / np.log(chance)
    completed = worn >= life
    given = int(np.clip(round(rating + rng.normal(0, truth.rating_sds[2])), 0, 10))
    return Summary(
        worn_min=life if completed else max(int(worn), 1),
        end_reason="completed" if completed else str(rng.choice(list(ENDS), p=list(ENDS.values()))),
        skin_grade=2 if rng.random() < reacts else int(rng.random() < 0.3),
        ratings=RatingsGiven(ease=given),
    )
