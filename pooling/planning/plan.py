"""A fair test, day by day: which site and side when, which fingersticks when, and what it can show in the end."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from msgspec import Struct

from pooling.planning.order import drawn_order
from pooling.planning.outlook import CanShow, can_show, notes, pairs_asked
from pooling.planning.precision import wear_spread
from pooling.planning.pricks import drawn_pricks
from pooling.planning.request import Design, PlanRequest, checked
from pooling.vocabulary import counted, label

PLAN_VERSION = 1


class PlannedPrick(Struct, frozen=True):
    """One fingerstick: day of the wear from 1, minutes after waking, and minutes since insertion."""

    day: int
    after_waking_min: int
    elapsed_min: int


class PlannedWear(Struct, frozen=True):
    """One wear of the plan; `from_day` to `to_day` count the days of the test from 1, the change falls on `to_day`."""

    number: int
    site: str
    side: str
    label: str
    from_day: int
    to_day: int
    pricks: tuple[PlannedPrick, ...]


class Plan(Struct, frozen=True):
    """A fair test. It holds no date, no time of day and no word about anybody."""

    version: int
    sensor_model: str
    design: Design
    rated_life_days: int
    pairs_per_wear: int
    n_days: int
    wears: tuple[PlannedWear, ...]
    can_show: CanShow
    notes: tuple[str, ...]


def make_plan(
    request: PlanRequest,
    rng: np.random.Generator,
    *,
    rated_life_days: int,
    licensed_sites: Sequence[str] = (),
    document: Mapping[str, Any] | None = None,
) -> Plan:
    """Draw a fair test.

    Parameters
    ----------
    request
        What is asked for.
    rng
        The order hangs on it alone, so whoever keys it decides that nobody draws until the order suits.
    rated_life_days
        Whole days that a sensor of this model is worn.
    licensed_sites
        Sites that its instructions name for the wearer's age.
    document
        An edition whose spreads say what the test can show.

    Raises
    ------
    PlanInvalid
        If it cannot be planned so.
    """
    checked(request, rated_life_days=rated_life_days)
    spread = wear_spread(document)
    n_pairs = pairs_asked(request, spread, rated_life_days)
    wears = tuple(
        PlannedWear(
            number=number,
            site=placed.site,
            side=placed.side,
            label=f"{label(placed.site)}, {label(placed.side)}",
            from_day=placed.day + 1,
            to_day=placed.day + 1 + rated_life_days,
            pricks=tuple(
                PlannedPrick(prick.day + 1, prick.after_waking_min, prick.elapsed_min)
                for prick in drawn_pricks(request, n_pairs, rng, rated_life_days=rated_life_days)
            ),
        )
        for number, placed in enumerate(drawn_order(request, rng, rated_life_days=rated_life_days), start=1)
    )
    return Plan(
        version=PLAN_VERSION,
        sensor_model=request.sensor_model,
        design=request.design,
        rated_life_days=rated_life_days,
        pairs_per_wear=n_pairs,
        n_days=wears[-1].to_day,
        wears=wears,
        can_show=can_show(request, spread, n_pairs),
        notes=notes(request, spread, licensed_sites),
    )


def rows(plan: Plan) -> list[dict[str, str | int]]:
    """The plan as rows to print: one for each change of sensor and each day with fingersticks, in order of days.

    Hours are given as after waking, so that the page fits everybody and tells nobody's day.
    """
    found: list[dict[str, str | int]] = []
    for wear in plan.wears:
        found.append({"day": wear.from_day, "wear": wear.number, "do": f"New sensor: {wear.label}", "after_waking": ""})
        by_day: dict[int, list[int]] = {}
        for prick in wear.pricks:
            by_day.setdefault(prick.day, []).append(prick.after_waking_min)
        found += [
            {
                "day": wear.from_day + day - 1,
                "wear": wear.number,
                "do": counted(len(minutes), "fingerstick"),
                "after_waking": ", ".join(f"{minute // 60}:{minute % 60:02d} h" for minute in minutes),
            }
            for day, minutes in sorted(by_day.items())
        ]
    return found
