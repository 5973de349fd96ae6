"""Goal E: what is shown. Whoever hides everything passes every other goal.

Shares of the wears that are counted or could be, in percent: of the margins they belong to (all sites, region, site;
each with and without the model), with the site known, with site and model known, and those that wait. What is beyond
the cap is left out. A naive build gives up model and site as soon as too few people meet.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from pooling.ledger import LEVELS, OPEN_WEARS_CAP, CellKey, Level
from pooling.simulate.community import GroupPlan, draw_people, draw_wearings
from pooling.vocabulary import SITES
from tests.pooling.ledger.test_plan_utility import first_cut_off, margins_pct
from tests.redteam.ledgers import MODELS, NEVER, Given, ours
from tests.redteam.registry import Effort, Goal, Line

N_EDITIONS = 20
WEARS_A_SLOT = 0.5
AT_ONCE = tuple(replace(level, wait=0) for level in LEVELS)


@dataclass(frozen=True)
class Shown:
    """Percentages of the wears that are counted or could be."""

    margins: float
    site: float
    site_and_model: float
    waiting: float

    def __str__(self) -> str:
        return f"{self.margins:.0f}, {self.site:.0f}, {self.site_and_model:.0f}; {self.waiting:.0f} wait"

    @classmethod
    def of(cls, wears: Sequence[Given], cells: Sequence[CellKey | None]) -> "Shown":
        def pct(*true: bool) -> float:
            return 100 * float(np.mean(true))

        return cls(
            margins_pct(wears, cells),  # type: ignore[arg-type]  # of a wear it reads the site alone
            pct(*(cell is not None and cell.place == one.site for one, cell in zip(wears, cells, strict=True))),
            pct(*(cell is not None and cell.sensor_model is not None and cell.place in SITES for cell in cells)),
            pct(*(cell is None for cell in cells)),
        )

    @classmethod
    def mean(cls, each: Sequence["Shown"]) -> "Shown":
        return cls(*np.mean([(s.margins, s.site, s.site_and_model, s.waiting) for s in each], axis=0).tolist())


def run(effort: Effort) -> Iterator[Line]:
    for n_people, floor in ((120, 80), (300, 92), (1000, 97)) if effort.full else ((120, 80),):
        n_worlds = effort.pick(10, 2)
        shares = [margins_pct(*first_cut_off(n_people, effort.seed + number)) for number in range(n_worlds)]
        yield Line(
            f"one edition of {n_people} people, {n_worlds} worlds: margins, at least {floor}",
            "-",
            f"{np.mean(shares):.0f} ({min(shares):.0f} to {max(shares):.0f})",
            bool(np.mean(shares) >= floor),
        )
    for name, world, asked, floor in STORIES if effort.full else STORIES[2:]:
        seeds = range(effort.seed, effort.seed + effort.pick(3, 1))
        found = Shown.mean([twenty_editions(world(seed), seed) for seed in seeds])
        naive = Shown.mean([twenty_editions(world(seed), seed, levels=AT_ONCE) for seed in list(seeds)[:1]])
        stood = (
            found.margins >= floor.margins
            and found.site >= floor.site
            and found.site_and_model >= floor.site_and_model
            and found.waiting <= floor.waiting
        )
        yield Line(f"{name}, {len(seeds)} seeds: {asked}", str(naive), str(found), stood)


def twenty_editions(
    given: Sequence[Given], seed: int, *, levels: Sequence[Level] = LEVELS, cap: int = OPEN_WEARS_CAP
) -> Shown:
    """What the last of twenty editions shows, of everything uploaded until then and not taken back while it waited."""
    ledger = ours(given, n_slots=N_EDITIONS, seed=seed, levels=levels, cap=cap)
    cell_of = {wear: block.cell for block in ledger.blocks if block.ends > N_EDITIONS for wear in block.wears}
    ended = {wear for block in ledger.blocks if block.ends <= N_EDITIONS for wear in block.wears}
    waiting = set(ledger.waiting) - ledger.full
    counted = [one for one in given if one.wear not in ended and (one.wear in cell_of or one.wear in waiting)]
    return Shown.of(counted, [cell_of.get(one.wear) for one in counted])


def growing(n_start: int, n_joins: int) -> Callable[[int], list[Given]]:
    """One group that starts with so many people and gets more at every slot; one in forty of all leaves."""

    def world(seed: int) -> list[Given]:
        rng = np.random.default_rng([seed, 5])
        since = [1] * n_start + [slot for slot in range(1, N_EDITIONS) for _ in range(n_joins)]
        return _uploads(rng, [GroupPlan("harbour", len(since))], since)

    return world


def small_groups(seed: int) -> list[Given]:
    """Twelve groups of 14 that feed everyone."""
    rng = np.random.default_rng([seed, 5])
    return _uploads(rng, [GroupPlan(f"g{n:02d}", 14) for n in range(12)], [1] * 12 * 14)


def _uploads(rng: np.random.Generator, groups: Sequence[GroupPlan], since: Sequence[int]) -> list[Given]:
    people = draw_people(rng, groups)
    wearings = draw_wearings(
        rng,
        people,
        sites=SITES,
        sensor_models=MODELS,
        slots=N_EDITIONS,
        wears_per_person=WEARS_A_SLOT * N_EDITIONS + 0.3,
    )
    first = {one.person: slot for one, slot in zip(people, since, strict=True)}
    gone = {one.person: int(rng.integers(1, N_EDITIONS)) if rng.random() < 1 / 40 else NEVER for one in people}
    return [
        Given(f"w{n:05d}", w.person, w.wearer, w.group, True, w.site, w.sensor_model, w.slot, gone[w.person])
        for n, w in enumerate(wearings)
        if w.slot >= first[w.person]
    ]


STORIES = (
    ("20 editions, 150 people and 15 more each", growing(150, 15), "margins 75", Shown(75, 0, 0, 100)),
    ("20 editions, 600 people and 40 more each", growing(600, 40), "margins 90", Shown(90, 0, 0, 100)),
    ("20 editions, 12 groups of 14", small_groups, "site 75, and model 40; 22 wait", Shown(0, 75, 40, 22)),
)

GOAL = Goal(
    "E", "Margins; site, site and model; waiting: floors of what is shown, so that nobody passes by hiding.", run
)
