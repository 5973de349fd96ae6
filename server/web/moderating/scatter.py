"""Sensor against fingerstick, drawn for the page of one wear: where dots lie on a square of fixed size."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

SIDE: Final = 320
MARGIN: Final = 40
TOP_OF: Final = {"mg/dL": 400.0, "mmol/L": 22.0}
TICKS_OF: Final = {"mg/dL": (0, 100, 200, 300, 400), "mmol/L": (0, 5, 10, 15, 20)}
SMALLEST_DOT: Final = 3.0


@dataclass(frozen=True, slots=True)
class Dot:
    """Pairs that lie on each other are one dot, the larger the more they are."""

    x: float
    y: float
    radius: float
    n_pairs: int


@dataclass(frozen=True, slots=True)
class Scatter:
    """What the template draws; readings above the top lie on the edge."""

    dots: tuple[Dot, ...]
    ticks: tuple[tuple[int, float, float], ...]
    near: float
    far: float
    unit: str


def scatter(pairs: Iterable[Any], unit: str) -> Scatter:
    """The dots of all pairs with two numbers."""
    top = TOP_OF[unit]
    counted = Counter((pair.reference, pair.sensor) for pair in pairs if pair.sensor is not None)
    dots = tuple(
        Dot(_across(reference, top), _up(sensor, top), SMALLEST_DOT * n**0.5, n)
        for (reference, sensor), n in sorted(counted.items())
    )
    ticks = tuple((tick, _across(tick, top), _up(tick, top)) for tick in TICKS_OF[unit])
    return Scatter(dots, ticks, MARGIN, SIDE - MARGIN, unit)


def _across(value: float, top: float) -> float:
    return round(MARGIN + (SIDE - 2 * MARGIN) * min(value, top) / top, 1)


def _up(value: float, top: float) -> float:
    return round(SIDE - _across(value, top), 1)
