"""How often intervals of what parts say hold the truth: by phase, range and prompt, lows missed, false lows."""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from scipy.stats import t as student

from pooling.crossing import CROSSED, PARTITIONS, cell_of, crossed
from pooling.hierarchy import Estimate, FitRules, fit
from pooling.ledger import plan_parts
from pooling.outcomes import Survival
from pooling.parts import DAYS_ALIKE, Parts, estimate
from pooling.sealing import SEAL_VERSION_1, Cell, Member, SealedRecords, seal_slot
from pooling.stratum import errors_of
from tests.calibration.pools import TAIL, TAIL_SD, Floats, Stratum, place_name
from tests.calibration.score import Score

MODEL, LIFE, N_SLOTS = "demo-a14", 14, 3
LOW, HIGH = 70.0, 180.0
_TRUTH_WEARS = 3000
SHARE_ON = {3: 0.97, 7: 0.9, 10: 0.82}
ON_RATED = 0.7


@dataclass(frozen=True)
class Summary:
    """What sealing reads of a wear."""

    strata: dict[str, Stratum]
    crossed: dict[int, object]
    zones: tuple[int, ...] = (0, 0, 0, 0, 0)


@dataclass(frozen=True)
class Law:
    """Levels of cells, and by how much parts widen the scatter there: first day, low fingerstick, doubt."""

    location: Floats
    scatter: Floats
    wider: Floats
    """cells x 3"""
    person_sd: tuple[float, float] = (0.04, 0.3)
    wear_sd: float = 0.03

    @classmethod
    def drawn(cls, n_cells: int, rng: np.random.Generator) -> "Law":
        common = np.exp(rng.normal((0.25, 0.3, 0.15), 0.15))
        return cls(
            rng.normal(0, 0.02, n_cells),
            0.09 * np.exp(rng.normal(0, 0.12, n_cells)),
            common * np.exp(rng.normal(0, 0.06, (n_cells, 3))),
        )


@dataclass(frozen=True)
class Person:
    """How one person reads and pricks; shares of prompts and of first days are their own."""

    location: float
    scatter: float
    glucose: float
    first_day: float
    prompts: Floats

    @classmethod
    def drawn(cls, law: Law, rng: np.random.Generator) -> "Person":
        return cls(
            rng.normal(0, law.person_sd[0]),
            rng.normal(0, law.person_sd[1]),
            rng.normal(0, 0.15),
            float(rng.beta(4, 26)),
            rng.dirichlet((8.0, 1.5, 0.5)),
        )


@dataclass
class Readings:
    """Pairs of many wears, each with its cell of the crossed partitions."""

    reference: list[Floats] = field(default_factory=list)
    sensor: list[Floats] = field(default_factory=list)
    cell: list[Floats] = field(default_factory=list)
    weight: list[Floats] = field(default_factory=list)


def readings(law: Law, cell: int, person: Person, rng: np.random.Generator) -> tuple[Floats, Floats, Floats]:
    """Fingersticks, readings and crossed cells of one wear."""
    n = int(np.clip(np.exp(rng.normal(3.5, 0.5)), 12, 120))
    reference = np.clip(np.exp(np.log(140) + person.glucose + rng.normal(0, 0.38, n)), 40, 400)
    first = rng.random(n) < person.first_day
    phase = np.where(first, 0, 1 + (rng.random(n) < 0.5))
    prompt = rng.choice(3, n, p=person.prompts)
    reach = np.digitize(reference, (LOW, HIGH))
    widened = np.ones(n)
    for factor, inside in zip(law.wider[cell], (first, reach == 0, prompt == 1), strict=True):
        widened = np.where(inside, widened * factor, widened)
    sd = law.scatter[cell] * np.exp(person.scatter) * widened
    noise = np.clip(student.rvs(TAIL, size=n, random_state=rng), -7, 7) / TAIL_SD
    location = law.location[cell] + person.location + rng.normal(0, law.wear_sd)
    return reference, reference * np.exp(location + sd * noise), cell_of(phase, reach, prompt)


def member(name: str, law: Law, cell: int, person: Person, rng: np.random.Generator) -> Member:
    reference, sensor, cells = readings(law, cell, person, rng)
    n = len(reference)
    log_ratios = np.log(sensor / reference)
    table = crossed(errors_of(reference, sensor), numbered=np.ones(n, dtype=bool), cell=cells, shown_low=sensor < LOW)
    plain = Stratum.of(log_ratios)
    k15, k20 = (sum(getattr(own, f"k{band}") for own in table.values()) for band in (15, 20))
    stratum = Stratum(plain.n_pairs, plain.m, plain.s, plain.m4, plain.a1, plain.a2, k15, k20)
    return Member(name, f"account of {name}", Summary({"all": stratum}, table))


Truths = dict[str, dict[str, float]]


def truth_of(law: Law, cell: int, rng: np.random.Generator) -> Truths:
    """Per part the mean difference in per cent, shares, lows; from many new people's wears, each weighing the same."""
    found = {"direct": np.zeros(len(CROSSED)), "weight": np.zeros(len(CROSSED)), "low": np.zeros(len(CROSSED))}
    for _ in range(_TRUTH_WEARS):
        reference, sensor, cells = readings(law, cell, Person.drawn(law, rng), rng)
        for name, value in (
            ("direct", np.abs(sensor / reference - 1)),
            ("weight", np.ones(len(cells))),
            ("low", sensor < LOW),
        ):
            found[name] += np.bincount(cells, value / len(cells), len(CROSSED))
    inside = {part: np.array([part in one for one in CROSSED]) for own in PARTITIONS.values() for part in own}
    mean = {part: 100 * found["direct"][at].sum() / found["weight"][at].sum() for part, at in inside.items()}
    whole = 100 * found["direct"].sum() / found["weight"].sum()
    low = inside["reference_low"]
    return {
        "mard": mean,
        "less": {part: own - whole for part, own in mean.items()},
        "lows": {
            "missed": 100 * (1 - found["low"][low].sum() / found["weight"][low].sum()),
            "false": 100 * found["low"][~low].sum() / found["low"].sum(),
        },
    }


def sealed(
    law: Law, n_people: int, rng: np.random.Generator, seen: list[tuple[Cell, list[Member]]] | None = None
) -> SealedRecords:
    """Three cut-offs of one pool; whoever comes wears at one or two cells, once or twice a cut-off.

    seen is filled with the blocks.
    """
    n_cells = len(law.location)
    people = [Person.drawn(law, rng) for _ in range(n_people)]
    favour = rng.dirichlet(np.full(n_cells, 3.0))
    homes = [rng.choice(n_cells, 1 + int(rng.random() < 0.3), replace=False, p=favour) for _ in people]
    records, places = SealedRecords(), ()
    for slot in range(N_SLOTS):
        at: dict[int, list[Member]] = {cell: [] for cell in range(n_cells)}
        for number, (person, home) in enumerate(zip(people, homes, strict=True)):
            for cell in home:
                for _ in range(int(rng.integers(0, 2)) + int(slot == 0)):
                    at[int(cell)].append(member(f"p{number:04d}", law, int(cell), person, rng))
        blocks = [
            (Cell("everyone", place_name(cell), MODEL), own)
            for cell, own in at.items()
            if len({one.account for one in own}) >= 5
        ]
        if seen is not None:
            seen += blocks
        slot_seal = seal_slot(
            blocks,
            parts=_planned(blocks),
            open_places=places,
            end_bucket=4,
            version=SEAL_VERSION_1,
            key=rng.bytes(32),
            k=5,
        )
        records, places = records + slot_seal.records, (*places, *slot_seal.places)
    return records.merged()


def _planned(blocks: list[tuple[Cell, list[Member]]]) -> tuple[object, ...]:
    wears = {
        cell: [(one.account, [CROSSED[index] for index in one.summary.crossed]) for one in own] for cell, own in blocks
    }
    return plan_parts(wears, 5, together=[*([cell] for cell in wears), list(wears)])


Scored = tuple[Estimate, float, float | None]
"""What was found, what is true, and the plain figure from all single readings, if it is counted."""


def run(n_pools: int, seed: int, people: tuple[int, int], rules: FitRules) -> dict[str, Score]:
    """Simulate, seal, fit and score pools."""
    scores: dict[str, Score] = {}
    for index in range(n_pools):
        score_pool(scores, run_one(np.random.default_rng([seed, index]), people, rules))
    return scores


def run_one(rng: np.random.Generator, people: tuple[int, int], rules: FitRules) -> dict[str, list[Scored]]:
    """One pool: what was found of each figure at each place."""
    law = Law.drawn(int(rng.integers(4, 7)), rng)
    seen: list[tuple[Cell, list[Member]]] = []
    records = sealed(law, int(rng.integers(people[0], people[1] + 1)), rng, seen)
    truths = {place_name(cell): truth_of(law, cell, rng) for cell in range(len(law.location))}
    pooled = fit(records, rules, rng)
    stays = [_stays(place) for place in truths]
    parts = estimate(records, pooled, rules, rng, survival=stays, rated_life_days={MODEL: LIFE})
    return _figures(parts, truths, _plain_lows(seen))


def score_pool(scores: dict[str, Score], figures: dict[str, list[Scored]]) -> None:
    """Add one pool."""
    for name, found in figures.items():
        estimates, truth, plain = zip(*found, strict=True)
        beside = None if None in plain else np.array(plain)
        scores.setdefault(name, Score.empty()).add(list(estimates), np.array(truth), beside)


def _plain_lows(seen: list[tuple[Cell, list[Member]]]) -> dict[str, dict[str, float]]:
    """Lows missed and false lows of each place, counted over single readings, which nobody but their owners has."""
    counts: dict[str, Floats] = {}
    for cell, members in seen:
        own = counts.setdefault(cell.place, np.zeros((2, 2)))
        for one in members:
            for index, table in one.summary.crossed.items():
                own[int("reference_low" in CROSSED[index])] += table.n_pairs, table.shown_low
    return {
        place: {"missed": 100 * (1 - own[1, 1] / own[1, 0]), "false": 100 * own[0, 1] / own[:, 1].sum()}
        for place, own in counts.items()
    }


def _stays(place: str) -> Survival:
    on = {day: Estimate(100 * share, 100 * share, 100 * share) for day, share in SHARE_ON.items()}
    rated = Estimate(100 * ON_RATED, 100 * ON_RATED, 100 * ON_RATED)
    return Survival(place, MODEL, 30, on, rated, {}, {})


def _figures(parts: Parts, truths: dict[str, Truths], plain: dict[str, dict[str, float]]) -> dict[str, list[Scored]]:
    found: dict[str, list[Scored]] = {}

    def add(name: str, estimate: Estimate | None, truth: Callable[[], float], beside: float | None = None) -> None:
        if estimate is not None:
            found.setdefault(name, []).append((estimate, truth(), beside))

    for row in (*parts.phases, *parts.ranges, *parts.prompts):
        if row.place is None:
            continue
        own = truths[row.place]
        if row.part == DAYS_ALIKE:
            add("all days alike", row.mard_pct, lambda own=own: _per_day(own["mard"]))
            continue
        add(f"{row.part}, MARD", row.mard_pct, lambda own=own, row=row: own["mard"][row.part])
        add(f"{row.part}, less all", row.against_all_points, lambda own=own, row=row: own["less"][row.part])
        add(
            "doubt less scheduled",
            row.against_scheduled_points,
            lambda own=own: own["mard"]["doubt"] - own["mard"]["scheduled"],
        )
    for row in parts.lows:
        if row.place is not None:
            lows, counted = truths[row.place]["lows"], plain[row.place]
            add("lows missed", row.missed_pct, lambda lows=lows: lows["missed"], counted["missed"])
            add("false lows", row.false_pct, lambda lows=lows: lows["false"], counted["false"])
    return found


def _per_day(mard: dict[str, float]) -> float:
    """By hand: areas under the share still on, 1 day, 6 and 7."""
    day1 = (1 + (1 - (1 - 0.97) / 3)) / 2
    week = 2 * ((1 - 0.03 / 3) + 0.97) / 2 + 4 * (0.97 + 0.9) / 2
    later = 3 * (0.9 + 0.82) / 2 + 4 * (0.82 + 0.7) / 2
    whole = day1 + week + later
    return (day1 * mard["day1"] + week * mard["days2_7"] + later * mard["day8_on"]) / whole
