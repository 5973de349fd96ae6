"""Named worlds to simulate: how many people and sites, how they choose, and what the model does not assume."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from tests.calibration import worlds
from tests.calibration.pools import Pool, simulate
from tests.calibration.worlds import Floats, Laws

FEW = 5
"""People at the last site of `five-sites`."""


@dataclass(frozen=True)
class Drawn:
    """One pool, and per figure the truth by cell. "site MARD" is what docs/METHODS.md says the figure means."""

    pool: Pool
    truth: Mapping[str, Floats]


@dataclass(frozen=True)
class Scenario:
    """One world: fewest and most people, fewest and most sites, how readings and people behave."""

    people: tuple[int, int]
    sites: tuple[int, int] = (4, 4)
    heavy: bool = False
    confounding: float = 0.0
    few_at_last: bool = False
    laws: Laws | None = None

    def draw(self, rng: np.random.Generator) -> Drawn:
        """Draw a pool and its truth."""
        n_people = int(rng.integers(self.people[0], self.people[1] + 1))
        n_cells = int(rng.integers(self.sites[0], self.sites[1] + 1))
        if self.laws is not None:
            pool = worlds.simulate(rng, self.laws, n_people=n_people, n_cells=n_cells)
            return Drawn(pool, worlds.truths(rng, pool.truth, self.laws))
        pool = simulate(rng, n_people=n_people, n_cells=n_cells, confounding=self.confounding, heavy=self.heavy)
        if self.few_at_last:
            pool = _few(pool, n_cells - 1, rng)
        return Drawn(pool, worlds.plain_truths(pool.truth))


def _few(pool: Pool, cell: int, rng: np.random.Generator) -> Pool:
    """Let only a few people have worn the cell."""
    kept = set(rng.permutation(pool.people_at(cell))[:FEW].tolist())
    return replace(pool, wears=[wear for wear in pool.wears if wear.cell != cell or wear.person in kept])


_MANY = {"sites": (6, 8), "heavy": True}
SCENARIOS: Mapping[str, Scenario] = {
    "unbalanced": Scenario((8, 40)),
    "t5": Scenario((8, 40), heavy=True),
    "five-sites": Scenario((30, 30), few_at_last=True),
    "confounded": Scenario((16, 40), confounding=1.0),
    "t5-confounded": Scenario((30, 60), **_MANY, confounding=1.0),
    "unconfounded": Scenario((30, 60), **_MANY),
    "people-120": Scenario((120, 120), **_MANY, confounding=1.0),
    "people-333": Scenario((333, 333), **_MANY, confounding=1.0),
    "people-400": Scenario((400, 400), sites=(6, 6), heavy=True),
    "autocorrelated": Scenario((30, 60), **_MANY, laws=Laws(likeness=0.6)),
    "drift": Scenario((30, 60), **_MANY, laws=Laws(drift_sd=0.15)),
    "meter-bias": Scenario((30, 60), **_MANY, laws=Laws(meter_sd=0.05)),
    "carry-over": Scenario((30, 60), **_MANY, laws=Laws(carried=0.5, unrested=0.3)),
    "moves-on": Scenario((30, 60), **_MANY, laws=Laws(moves_on=True)),
}
HOSTILE = ("autocorrelated", "drift", "meter-bias", "carry-over", "moves-on")
