"""A fair test, day by day: which site and side when, which fingersticks when, and what it can show in the end."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from msgspec import Struct

from pooling.planning.order import drawn_order
from pooling.planning.precision import WearSpread, enough_pairs, precision, wear_spread
from pooling.planning.pricks import drawn_pricks
from pooling.planning.request import REST_DAYS, Design, PlanRequest, checked, room_by_day
from pooling.starter import SPREADS_CITE
from pooling.vocabulary import counted, label

PLAN_VERSION = 1

NOTE_LOT = "Which site comes when was drawn by lot. Keep to it: a site worn when it suits is no longer a fair test."
NOTE_REST = (
    f"A spot rests {REST_DAYS} days before it is worn again. That is common practice, no source; keep longer rests "
    "that the instructions or a clinician ask for, and leave out skin that is sore, scarred or lumpy."
)
NOTE_NIGHT = "No fingerstick is due at night. How the sensor reads during sleep is therefore not tested."
NOTE_FIRST_DAY = "The first day has fingersticks of its own: sensors are often less near on it."
NOTE_EVERY = (
    "Prick at the planned times whatever the sensor shows. Fingersticks taken because a reading is doubted are welcome "
    "too; mark them so."
)
NOTE_STARTER = f"What it can show is worked out from assumed spreads, not yet from an edition ({SPREADS_CITE})."
NOTE_OFF_LABEL = (
    "The sensor's instructions do not name {}: wearing it there is off-label, and how safe and accurate it is there "
    "has not been established."
)
NOTE_EARLY = "If a wear ends early, upload it all the same, say how it ended, and go on with the next one of the plan."


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


class CanShow(Struct, frozen=True):
    """What the plan can tell of the difference between any two of its sites, in points of MARD."""

    margin_points: float
    seen_4_of_5_points: float
    enough_pairs_per_wear: int
    basis: str
    says: tuple[str, ...]


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
    n_pairs = request.pairs_per_wear or _enough(request, spread, rated_life_days)
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
        can_show=_can_show(request, spread, n_pairs),
        notes=_notes(request, spread, licensed_sites),
    )


def _enough(request: PlanRequest, spread: WearSpread, rated_life_days: int) -> int:
    return min(enough_pairs(spread), sum(room_by_day(request, rated_life_days=rated_life_days)))


def _can_show(request: PlanRequest, spread: WearSpread, n_pairs: int) -> CanShow:
    found = precision(spread, pairs_per_wear=n_pairs, wears_per_site=request.wears_per_site)
    more = precision(spread, pairs_per_wear=n_pairs, wears_per_site=request.wears_per_site + 1)
    enough = enough_pairs(spread)
    return CanShow(
        margin_points=round(found.margin_points, 1),
        seen_4_of_5_points=round(found.seen_points, 1),
        enough_pairs_per_wear=enough,
        basis=spread.basis,
        says=(
            f"A true difference of {found.seen_points:.1f} points of MARD between two of these sites would be seen "
            "4 times of 5; a smaller one less often.",
            f"The difference that the test finds will be sure to about {found.margin_points:.1f} points either way.",
            f"From about {enough} fingersticks a wear on, twice as many would narrow that by less than a tenth.",
            f"One wear more at each site would bring it to {more.margin_points:.1f} points.",
        ),
    )


def _notes(request: PlanRequest, spread: WearSpread, licensed_sites: Sequence[str]) -> tuple[str, ...]:
    unnamed = [label(spot.site) for spot in request.spots if spot.site not in licensed_sites]
    notes = [NOTE_LOT, NOTE_EVERY, NOTE_REST, NOTE_NIGHT, NOTE_EARLY]
    if request.first_day_pairs:
        notes.append(NOTE_FIRST_DAY)
    if unnamed:
        notes.append(NOTE_OFF_LABEL.format(", ".join(unnamed)))
    if spread.basis == "starter":
        notes.append(NOTE_STARTER)
    return tuple(notes)


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
