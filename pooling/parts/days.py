"""Days worn by phase, from the shares of sensors still on: what makes a mean over days of a mean over readings."""

from collections.abc import Iterable, Mapping
from itertools import pairwise

from pooling.outcomes import Survival

PHASE_EDGES_DAYS: Mapping[str, tuple[float, float]] = {
    "day1": (0.0, 1.0),
    "days2_7": (1.0, 7.0),
    "day8_on": (7.0, float("inf")),
}


def days_by_phase(rows: Iterable[Survival], rated_life_days: Mapping[str, int]) -> dict[str, dict[str, float]]:
    """Per place, the mean days that a sensor put on there is worn in each phase.

    Parameters
    ----------
    rows
        Rows of survival; those of one sensor model each are read, and weighed by their people.
    rated_life_days
        By sensor model.

    Notes
    -----
    The mean time that lasts until an end is the area under the share still on (any textbook of survival analysis). The
    share is known at a few days and drawn straight between them; between day 0 and the first, nearly nobody is off.
    """
    found: dict[str, dict[str, float]] = {}
    people: dict[str, int] = {}
    for row in rows:
        life = rated_life_days.get(row.sensor_model or "")
        if life is None:
            continue
        own = worn_by_phase(
            {day: share.median / 100 for day, share in row.on_pct.items() if day < life}
            | {life: row.rated_pct.median / 100}
        )
        place = found.setdefault(row.place, dict.fromkeys(PHASE_EDGES_DAYS, 0.0))
        people[row.place] = people.get(row.place, 0) + row.n_people
        for phase, days in own.items():
            place[phase] += row.n_people * days
    return {place: {phase: days / people[place] for phase, days in own.items()} for place, own in found.items()}


def worn_by_phase(share_on: Mapping[int, float]) -> dict[str, float]:
    """Area under the share still on, phase by phase, up to the last day given.

    Examples
    --------
    >>> {phase: round(days, 3) for phase, days in worn_by_phase({3: 1.0, 7: 0.9, 14: 0.8}).items()}
    {'day1': 1.0, 'days2_7': 5.8, 'day8_on': 5.95}
    """
    knots = [(0.0, 1.0), *((float(day), share) for day, share in sorted(share_on.items()))]
    return {
        phase: sum(_area(a, b, start, end) for a, b in pairwise(knots))
        for phase, (start, end) in PHASE_EDGES_DAYS.items()
    }


def _area(a: tuple[float, float], b: tuple[float, float], start: float, end: float) -> float:
    """Area under the straight line from a to b, between two days."""
    left, right = max(a[0], start), min(b[0], end)
    if right <= left:
        return 0.0
    slope = (b[1] - a[1]) / (b[0] - a[0])
    return (right - left) * (a[1] + slope * ((left + right) / 2 - a[0]))
