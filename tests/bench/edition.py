"""What a whole edition costs: every outcome, table, interval and contrast, from summaries of wears to its bytes."""

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from pooling import outcomes
from pooling.crossing import CROSSED
from pooling.edition import assemble, canonical_bytes
from pooling.hierarchy import CHANNELS, FitRules, combine, fit_channel, fittable
from pooling.hierarchy.reml import reml
from pooling.ledger import plan_parts
from pooling.parts import estimate
from pooling.sealing import CURRENT, FAMILIES, FEWEST_PEOPLE, Cell, Member, SealedRecords, seal_slot
from pooling.summary import RatingsGiven
from tests.bench import referee
from tests.bench.runner import bench, ratio
from tests.calibration import parts as worlds
from tests.calibration.pools import Stratum, ties_between
from tests.pooling.conftest import make_context
from tests.referee import lme4

N_WEARS, N_PEOPLE, N_CELLS, K = 50_000, 400, 6, 5
SITES = ("abdomen.front", "calf", "chest", "thigh.front", "thigh.outer", "upper_arm.back")
MODEL, LIFE = "demo-a14", 14
ENDS = ("fell_off", "device_error", "removed_skin", "removed_other")
RULES = FitRules()
Blocks = Sequence[tuple[Cell, Sequence[Member]]]


@dataclass(frozen=True)
class Summary:
    """A wear with something to say in every family."""

    strata: dict[str, Stratum]
    crossed: dict[int, object]
    zones: tuple[int, ...]
    worn_min: int
    end_reason: str
    skin_grade: int
    ratings: RatingsGiven


def _told(plain: worlds.Summary, rng: np.random.Generator) -> Summary:
    lasted, n = rng.random() < 0.8, plain.strata["all"].n_pairs
    return Summary(
        plain.strata,
        plain.crossed,
        (n - int(rng.random() < 0.1), 0, 0, 0, 0),
        LIFE * 1440 if lasted else int(rng.integers(1440, LIFE * 1440)),
        "completed" if lasted else str(rng.choice(ENDS)),
        2 * int(rng.random() < 0.15),
        RatingsGiven(*rng.integers(4, 10, 3).tolist()),
    )


@cache
def blocks(n_wears: int) -> Blocks:
    """A pool of people at one or two of six sites, and as many like it beside it as are wanted, under other names."""
    rng = np.random.default_rng(1)
    law = worlds.Law.drawn(N_CELLS, rng)
    at: dict[int, list[Member]] = {cell: [] for cell in range(N_CELLS)}
    for number in range(N_PEOPLE):
        person = worlds.Person.drawn(law, rng)
        for cell in rng.choice(N_CELLS, 1 + int(rng.random() < 0.5), replace=False).tolist():
            for _ in range(1 + rng.poisson(1)):
                plain = worlds.member(f"p{number:04d}", law, cell, person, rng)
                at[cell].append(replace(plain, summary=_told(plain.summary, rng)))
    copies = -(-n_wears // sum(map(len, at.values())))
    return [
        (
            Cell("everyone", SITES[cell], MODEL),
            [
                replace(one, person=f"{copy} {one.person}", account=f"{copy} {one.account}")
                for copy in range(copies)
                for one in own
            ],
        )
        for cell, own in at.items()
    ]


def _skin(of: Blocks) -> Blocks:
    """Of the skin one wear a person, as in a cut-off."""
    return [(cell, list({one.person: one for one in own}.values())) for cell, own in of]


@cache
def _plans(n_wears: int) -> Mapping[str, dict]:
    """What the ledger says of ties and parts; its time is its own."""
    pool = blocks(n_wears)
    wears = {
        cell: [(one.account, [CROSSED[index] for index in one.summary.crossed]) for one in own] for cell, own in pool
    }
    ties = {family: ties_between(pool, k=FEWEST_PEOPLE.get(family, K)) for family in FAMILIES}
    parts = plan_parts(wears, K, together=[*([cell] for cell in wears), list(wears)])
    return {family: {"ties": own, "parts": parts if family == "accuracy" else ()} for family, own in ties.items()}


def sums(n_wears: int) -> SealedRecords:
    """One cut-off in every family."""
    found = SealedRecords()
    for family in FAMILIES:
        sealed = seal_slot(
            _skin(blocks(n_wears)) if family == "skin" else blocks(n_wears),
            open_places=(),
            end_bucket=4,
            version=CURRENT,
            key=b"of a bench",
            k=FEWEST_PEOPLE.get(family, K),
            family=family,
            **_plans(n_wears)[family],
        )
        found += sealed.records
    return found.merged()


def figures(records: SealedRecords) -> bytes:
    """The document of an edition of these sums."""
    rng = np.random.default_rng(2)
    fits = {channel: fit_channel(records, channel, RULES, rng) for channel in fittable(records)}
    fit = combine(records, {channel: fits[channel] for channel in CHANNELS}, RULES, rng)
    beside = outcomes.estimate(records, fits, rated_life_days={MODEL: LIFE})
    parts = estimate(records, fit, RULES, rng, survival=beside.survival, rated_life_days={MODEL: LIFE})
    return canonical_bytes(assemble(fit, make_context(), beside, parts))


def _columns(n_wears: int) -> tuple[np.ndarray, ...]:
    """Of the wears: mean, number of readings, centred sum of squares, person and cell."""
    number: dict[str, int] = {}
    rows = [
        (own.m, own.n_pairs, own.s, number.setdefault(one.person, len(number)), cell)
        for cell, (_, members) in enumerate(blocks(n_wears))
        for one in members
        for own in (one.summary.strata["all"],)
    ]
    rows.sort(key=lambda row: row[3:])
    mean, n, squares, person, cell = zip(*rows, strict=True)
    return np.array(mean), np.array(n), np.array(squares), np.array(person), np.array(cell)


@bench(
    "edition of 50,000 wears, all outcomes, sealing included: exact fit of one model, of location, on the same wears",
    bound=25.0,
)
def edition_of_50_000() -> float:
    """Summaries in, canonical bytes out; 50,000 wears of 30 readings or so at six sites, with ties and parts."""
    columns = _columns(N_WEARS)
    _plans(N_WEARS)
    return ratio(lambda: figures(sums(N_WEARS)), lambda: reml(*columns), rounds=2)


@bench(
    "fits of all outcomes by as many nodes, over 1,000 times as many wears: fits of the sums of about 1,000", bound=1.2
)
def fits_of_a_million() -> float:
    """The large sums are those of one pool, added up a thousand times: a sum does not show how it came about.

    Nodes are held at as many: how many a posterior wants depends on its shape, and chains where nodes do not do take
    several times as long, whatever the number of wears.
    """
    few = sums(1_000)
    many = SealedRecords.of(few.records * 1_000).merged()
    assert {block.family for block in few.blocks} == set(FAMILIES)
    held = FitRules(fewest_effective=1, wanted_effective=10**9, most_batches=4)

    def fits(records: SealedRecords) -> list[int]:
        rng = np.random.default_rng(2)
        return [fit_channel(records, channel, held, rng).n_evaluated for channel in fittable(records)]

    assert fits(few) == fits(many)
    return ratio(lambda: fits(many), lambda: fits(few), rounds=5)


OTHER_WEARS = 1_000
"""Other software fits so many, and is taken to need as many times longer for more: it needs more."""


@bench(
    "edition of 50,000 wears: statsmodels MixedLM on the readings of 1,000, for one model, times 50",
    bound=1 / 50,
    only_by_name=True,
)
def edition_beside_statsmodels() -> float:
    """Left for its name: it takes minutes."""
    return _seconds() / (N_WEARS / OTHER_WEARS * referee.statsmodels_seconds(referee.wears(OTHER_WEARS)))


@bench("edition of 50,000 wears: lme4 on 1,500,000 readings of as many, for one model", bound=0.1, only_by_name=True)
def edition_beside_lme4() -> float:
    """Wants R; `--lme4` looks whether it is there."""
    return _seconds() / lme4.fitted(referee.readings(referee.wears(N_WEARS)), control="")["seconds"]


def _seconds() -> float:
    _plans(N_WEARS)
    start = time.process_time()
    figures(sums(N_WEARS))
    return time.process_time() - start
