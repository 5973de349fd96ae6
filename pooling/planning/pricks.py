"""When fingersticks are due in one wear: spread over days and over the waking hours, never more a day than was said."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pooling.planning.request import PlanRequest, first_day_from_min, room_by_day

MINUTES_A_DAY = 1440
STEP_MIN = 5
_MIDDLE = 0.8


@dataclass(frozen=True, slots=True)
class Prick:
    """One fingerstick: the day of the wear it is due on, from 0, minutes after waking, and minutes since insertion."""

    day: int
    after_waking_min: int
    elapsed_min: int


def drawn_pricks(
    request: PlanRequest, n_pairs: int, rng: np.random.Generator, *, rated_life_days: int
) -> tuple[Prick, ...]:
    """Draw the fingersticks of one wear.

    The first day gets its share first, other days as even a number as goes, which days have one more is drawn. A day's
    waking minutes (on the first, those after the warm-up) are cut into as many equal parts as there are fingersticks,
    and in the middle four fifths of each part a minute is drawn: no hour is left out over the wear, and no two
    fingersticks fall close together. Nothing is due at night.
    """
    days = _per_day(request, n_pairs, rng, rated_life_days)
    return tuple(
        Prick(day, minute, day * MINUTES_A_DAY + minute - request.insert_after_waking_min)
        for day, n in enumerate(days)
        for minute in _minutes(int(n), day, request, rng)
    )


def _per_day(request: PlanRequest, n_pairs: int, rng: np.random.Generator, rated_life_days: int) -> NDArray[np.int64]:
    room = np.array(room_by_day(request, rated_life_days=rated_life_days))
    counts = np.zeros(rated_life_days, dtype=np.int64)
    counts[0] = min(request.first_day_pairs, room[0], n_pairs)
    for _ in range(n_pairs - counts[0]):
        open_days = np.flatnonzero(counts < room)
        fewest = open_days[counts[open_days] == counts[open_days].min()]
        counts[rng.choice(fewest)] += 1
    return counts


def _minutes(n: int, day: int, request: PlanRequest, rng: np.random.Generator) -> list[int]:
    start = 0 if day else first_day_from_min(request)
    part = (request.waking_min - start) / max(n, 1)
    offsets = (np.arange(n) + (1 - _MIDDLE) / 2 + _MIDDLE * rng.random(n)) * part
    return [int(start + offset) // STEP_MIN * STEP_MIN for offset in offsets]
