"""How often intervals of days on the skin, reactions and ratings hold the truth."""

from collections.abc import Callable

import numpy as np

from pooling.hierarchy import FitRules, fit_channel
from pooling.hierarchy.results import Estimate
from pooling.outcomes import estimate
from pooling.sealing import FEWEST_PEOPLE, SEAL_VERSION_1, seal_slot
from tests.calibration.outcomes import DAYS, RATED_LIFE_DAYS, Floats, OutcomePool, simulate
from tests.calibration.pools import place_name, ties_between
from tests.calibration.score import Score

OFF = {
    "off_adhesive": "fell_off",
    "off_device": "device_error",
    "off_body": "removed_skin",
    "off_other": "removed_other",
}
LIVES = {"demo-a14": RATED_LIFE_DAYS}
FAMILIES = {"survival": "survival", "skin": "skin", "ratings": "ease"}
CHANNELS = {
    "survival": (*(f"on{day}" for day in DAYS), "on_rated", "off_adhesive", "off_device", "off_body", "off_other"),
    "skin": ("reaction",),
    "ratings": ("ease",),
}
Measured = dict[str, tuple[dict[str, Estimate], Floats, Callable[[object], float]]]


def run(
    outcome: str, n_pools: int, seed: int, people: tuple[int, int], confounding: float, *, tied: bool, rules: FitRules
) -> dict[str, Score]:
    """Simulate, seal, fit and score pools of one outcome."""
    scores: dict[str, Score] = {}
    for index in range(n_pools):
        rng = np.random.default_rng([seed, index])
        pool = simulate(
            rng,
            n_people=int(rng.integers(people[0], people[1] + 1)),
            n_cells=int(rng.integers(4, 7)),
            confounding=confounding,
        )
        for name, (estimates, truth, plain) in _measured(pool, outcome, tied, rules, rng).items():
            kept = [cell for cell in range(len(truth)) if place_name(cell) in estimates]
            if kept:
                simple = [_plain(pool, cell, plain) for cell in kept]
                scores.setdefault(name, Score.empty()).add(
                    [estimates[place_name(cell)] for cell in kept], truth[kept], np.array(simple)
                )
    return scores


def _measured(pool: OutcomePool, outcome: str, tied: bool, rules: FitRules, rng: np.random.Generator) -> Measured:
    """Per figure the estimates by place, the truth by cell, and what one wear says of it."""
    family = FAMILIES[outcome]
    k = FEWEST_PEOPLE.get(family, 5)
    blocks = pool.blocks(family, k=k)
    if not blocks:
        return {}
    ties = ties_between(blocks, k=k) if tied else ()
    records = seal_slot(
        blocks, ties=ties, open_places=(), end_bucket=4, version=SEAL_VERSION_1, key=rng.bytes(32), k=k, family=family
    ).records
    fits = {channel: fit_channel(records, channel, rules, rng) for channel in CHANNELS[outcome]}
    found, truth = estimate(records, fits, rated_life_days=LIVES), pool.truth
    if outcome == "skin":
        levels = {row.place: row.estimate for row in found.reaction_pct if row.sensor_model}
        return {"reaction": (levels, 100 * truth.share_reacting(), lambda wear: 100.0 * (wear.skin_grade > 1))}
    if outcome == "ratings":
        levels = {row.place: row.estimate for row in found.ratings["ease"] if row.sensor_model}
        return {"rating": (levels, truth.mean_rating(), lambda wear: float(wear.ratings.ease))}
    rows = [row for row in found.survival if row.sensor_model]
    measured: Measured = {
        f"on at day {day}": (
            {row.place: row.on_pct[day] for row in rows},
            100 * truth.share_on(day),
            lambda wear, day=day: 100.0 * (wear.worn_min >= day * 1440),
        )
        for day in DAYS
    }
    return measured | {
        end: (
            {row.place: row.ends_pct[end] for row in rows},
            100 * truth.share_off(reason),
            lambda wear, reason=reason: 100.0 * (wear.end_reason == reason),
        )
        for end, reason in OFF.items()
    }


def _plain(pool: OutcomePool, cell: int, value: Callable[[object], float]) -> float:
    """Mean over people of each one's mean."""
    own: dict[int, list[float]] = {}
    for wear in pool.wears:
        if wear.cell == cell:
            own.setdefault(wear.person, []).append(value(wear.summary))
    return float(np.mean([np.mean(values) for values in own.values()]))
