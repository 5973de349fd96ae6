"""Which site and side comes when: drawn by lot, in complete rounds, with every spot rested before it is worn again."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pooling.planning.request import REST_DAYS, PlanRequest

N_TRIES = 200

SpotKey = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Placed:
    """One wear of the order: its site and side, and the day it starts on, counted from 0."""

    site: str
    side: str
    day: int


def drawn_order(request: PlanRequest, rng: np.random.Generator, *, rated_life_days: int) -> tuple[Placed, ...]:
    """Draw the order of a test.

    Blocked: every round holds each site once, in an order drawn anew. Alternating: one order is drawn and kept for all
    rounds, so that two sites follow each other in turn. Sides of a site take turns, beginning with one that is drawn,
    over all sites as often on one side as on the other.

    Returns
    -------
    tuple of Placed
        The first draw that needs no pause for a spot to rest; after 200 draws the one with the fewest days of pause.
    """
    tries = (_dated(_draw(request, rng), request, rated_life_days) for _ in range(N_TRIES))
    shortest = request.wears_per_site * len(request.spots) * rated_life_days
    best: tuple[Placed, ...] | None = None
    for order in tries:
        if order[-1].day + rated_life_days <= shortest:
            return order
        if best is None or order[-1].day < best[-1].day:
            best = order
    assert best is not None
    return best


def _draw(request: PlanRequest, rng: np.random.Generator) -> list[SpotKey]:
    # In an order of their own: what is named first must not decide.
    spots = sorted(request.spots, key=lambda spot: spot.site)
    n_sites = len(spots)
    fixed = rng.permutation(n_sites)
    # Half of the sites begin on their first side and half on the second, which half is drawn.
    begins = rng.permutation(np.arange(n_sites) + rng.integers(2)) % 2
    order = []
    for round_ in range(request.wears_per_site):
        for index in fixed if request.design == "alternating" else rng.permutation(n_sites):
            sides = sorted(spots[index].sides)
            order.append((spots[index].site, sides[(begins[index] + round_) % len(sides)]))
    return order


def _dated(order: Sequence[SpotKey], request: PlanRequest, rated_life_days: int) -> tuple[Placed, ...]:
    ready: dict[SpotKey, int] = {
        (spot.site, spot.side): max(REST_DAYS - spot.days_since, 0) for spot in request.resting
    }
    placed, day = [], 0
    for key in order:
        day = max(day, ready.get(key, 0))
        placed.append(Placed(*key, day))
        day += rated_life_days
        ready[key] = day + REST_DAYS
    return tuple(placed)
