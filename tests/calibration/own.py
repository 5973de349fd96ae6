"""Own estimates against the truth of invented people: a pool fitted and published, a few own wears, the next one."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from pooling.edition import assemble
from pooling.hierarchy import FitRules, fit
from pooling.own import OwnWear, predict, prior_of
from pooling.sealing import SEAL_VERSION_1, Cell, seal_slot
from pooling.starter import sensor_variance
from pooling.vocabulary import SITES
from tests.calibration.pools import CLIP, TAIL, TAIL_POINTS, TAIL_SD, Pool, Stratum, Truth, simulate, ties_between
from tests.pooling.conftest import make_context

MODEL, OTHER_MODEL = "demo-a14", "demo-b10"
N_OWN = (0, 1, 3)
FIGURES = ("new wear, 80 %", "new wear, 95 %", "person, 95 %", "new wear's bias, 80 %", "new wear's bias, 95 %")


@dataclass
class Covered:
    """How often the truth lay inside, pool by pool, and how wide the 95 % range of a new wear's MARD was."""

    hits: dict[str, list[float]] = field(default_factory=lambda: {name: [] for name in FIGURES})
    widths: list[float] = field(default_factory=list)
    errors: list[float] = field(default_factory=list)

    def line(self, name: str) -> str:
        shown = "   ".join(f"{figure} {np.mean(hits):.3f}" for figure, hits in self.hits.items())
        return (
            f"{name:<12} {shown}   ± {self.error():.3f}   width {np.mean(self.widths):.2f}   "
            f"RMSE {np.sqrt(np.mean(np.square(self.errors))):.2f}"
        )

    def error(self) -> float:
        """The largest Monte Carlo error of any share, between pools."""
        return max(float(np.std(hits) / max(len(hits) - 1, 1) ** 0.5) for hits in self.hits.values())


@dataclass(frozen=True)
class Person:
    """Somebody who is not in the pool: own location and spread at a cell, in log units, beside everybody's."""

    location: float
    spread: float


@dataclass(frozen=True)
class _Asked:
    """What new people wear, and where: None is any site of the pool."""

    model: str
    new_site: str | None


def run(
    n_pools: int,
    seed: int,
    people: tuple[int, int],
    confounding: float,
    *,
    rules: FitRules,
    n_new: int = 40,
    n_sites: int = 4,
    new_model: bool = False,
    new_site: bool = False,
) -> dict[str, Covered]:
    """New people in each pool, each with none, one and three own wears at a site and then one more.

    With new_model each wears a sensor model that is not in the pool, its level drawn anew about the one that is, with
    the spread between sensors of published studies. With new_site each wears it at a site that is not in the pool, its
    level drawn by the law that the pool's sites are drawn by.
    """
    scores = {f"{n} own wears": Covered() for n in N_OWN}
    for index in range(n_pools):
        rng = np.random.default_rng([seed, index])
        n_people = int(rng.integers(people[0], people[1] + 1))
        pool = simulate(rng, n_people=n_people, n_cells=n_sites, confounding=confounding)
        document = _published(pool, rules, rng)
        asked = _Asked(OTHER_MODEL if new_model else MODEL, SITES[-1] if new_site else None)
        for n, score in zip(N_OWN, scores.values(), strict=True):
            found = [_one(pool.truth, document, n, rng, asked) for _ in range(n_new)]
            for name in FIGURES:
                score.hits[name].append(float(np.mean([hits[name] for hits, *_ in found])))
            score.widths += [width for _, width, _ in found]
            score.errors += [error for *_, error in found]
    return scores


def _published(pool: Pool, rules: FitRules, rng: np.random.Generator) -> dict:
    blocks = [(Cell(cell.scope, _site(cell.place), MODEL), members) for cell, members in pool.blocks()]
    ties = ties_between(blocks)
    records = seal_slot(
        blocks, ties=ties, open_places=(), end_bucket=4, version=SEAL_VERSION_1, key=rng.spawn(1)[0].bytes(32), k=5
    ).records
    return assemble(fit(records, rules, rng), make_context())


def _site(place: str) -> str:
    return SITES[int(place.removeprefix("place"))]


def _one(
    truth: Truth, document: dict, n_own: int, rng: np.random.Generator, asked: _Asked
) -> tuple[dict[str, bool], float, float]:
    cell = int(rng.integers(len(truth.location)))
    site, at = SITES[cell], Person(truth.location[cell], truth.log_variance[cell])
    if asked.new_site:
        new = Truth.drawn(1, rng)
        site, at = asked.new_site, Person(new.location[0], new.log_variance[0])
    (ta, tb, tc), (ou, ov, ot) = truth.location_sds, truth.spread_sds
    location, spread = rng.normal(0, np.hypot(ta, tb)), rng.normal(0, np.hypot(ou, ov))
    if asked.model == OTHER_MODEL:
        variance = sensor_variance()
        location += rng.normal(0, variance["location"] ** 0.5)
        spread += rng.normal(0, variance["dispersion"] ** 0.5)
    person = Person(at.location + location, at.spread + spread)
    wears = [replace(wear, sensor_model=asked.model) for wear in _wears(person, site, n_own, (tc, ot), rng)]
    found = predict(wears, prior_of(document), site=site, sensor_model=asked.model)
    location, sd = person.location + rng.normal(0, tc), np.exp(0.5 * (person.spread + rng.normal(0, ot)))
    mard = np.abs(np.expm1(location + sd * TAIL_POINTS / TAIL_SD)).mean()
    own = replace(
        truth, location=np.array([person.location]), log_variance=np.array([person.spread]),
        location_sds=(0.0, 0.0, tc), spread_sds=(0.0, 0.0, ot),
    )  # fmt: skip
    hits = {
        "new wear, 80 %": _inside(found.wear_mard, mard, 0.8),
        "new wear, 95 %": _inside(found.wear_mard, mard, 0.95),
        "person, 95 %": _inside(found.person_mard, float(own.mard()[0]), 0.95),
        "new wear's bias, 80 %": _inside(found.wear_bias, np.expm1(location), 0.8),
        "new wear's bias, 95 %": _inside(found.wear_bias, np.expm1(location), 0.95),
    }
    width = np.ptp(np.quantile(found.wear_mard, (0.025, 0.975)))
    return hits, 100 * float(width), 100 * float(np.median(found.wear_mard) - mard)


def _wears(person: Person, site: str, n: int, sds: tuple[float, float], rng: np.random.Generator) -> Iterator[OwnWear]:
    for _ in range(n):
        n_pairs = int(np.clip(np.exp(rng.normal(3.2, 0.9)), 8, 200))
        noise = np.clip(rng.standard_t(TAIL, n_pairs), -CLIP, CLIP) / TAIL_SD
        sd = np.exp(0.5 * (person.spread + rng.normal(0, sds[1])))
        yield OwnWear.of(site, MODEL, Stratum.of(person.location + rng.normal(0, sds[0]) + sd * noise))


def _inside(points: np.ndarray, truth: float, share: float) -> bool:
    lower, upper = np.quantile(points, (0.5 - share / 2, 0.5 + share / 2))
    return bool(lower <= truth <= upper)
