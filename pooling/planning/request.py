"""What somebody asks a fair test for: the spots, how much they will do, and how long their days are."""

from typing import Annotated, Literal

from msgspec import Meta, Struct

from pooling.errors import Fault, InvalidInput
from pooling.vocabulary import Side, Site

Design = Literal["blocked", "alternating"]

MOST_SITES = 6
MOST_WEARS = 24
REST_DAYS = 21
"""How long a spot rests before it is worn again: common practice, no source."""
LEAST_WAKING_MIN = 480
FIRST_DAY_LEAST_MIN = 60
FEWEST_PAIRS_A_WEAR = 8


class Spot(Struct, frozen=True, forbid_unknown_fields=True):
    """A site of the test, and the sides of it that may be worn."""

    site: Site
    sides: Annotated[tuple[Side, ...], Meta(min_length=1, max_length=2)] = ("left", "right")


class Resting(Struct, frozen=True, forbid_unknown_fields=True):
    """A spot that was worn lately, and how many days ago the sensor came off, on the day the test begins."""

    site: Site
    side: Side
    days_since: Annotated[int, Meta(ge=0, le=400)]


class PlanRequest(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A fair test as it is asked for. No date and no time of day: days are counted from the first, minutes from waking.

    `pairs_per_wear` is worked out where it is left out. `waking_min` is the length of the part of a day in which
    somebody is sure to be awake; `insert_after_waking_min` says when in it a sensor is changed.
    """

    spots: Annotated[tuple[Spot, ...], Meta(min_length=2, max_length=MOST_SITES)]
    sensor_model: Annotated[str, Meta(min_length=1, max_length=64)]
    wears_per_site: Annotated[int, Meta(ge=1, le=6)] = 2
    pairs_per_wear: Annotated[int, Meta(ge=FEWEST_PAIRS_A_WEAR, le=200)] | None = None
    daily_cap: Annotated[int, Meta(ge=1, le=10)] = 5
    first_day_pairs: Annotated[int, Meta(ge=0, le=10)] = 3
    waking_min: Annotated[int, Meta(ge=LEAST_WAKING_MIN, le=1200)] = 840
    insert_after_waking_min: Annotated[int, Meta(ge=0, le=600)] = 60
    warm_up_min: Annotated[int, Meta(ge=0, le=1440)] = 120
    design: Design = "blocked"
    resting: Annotated[tuple[Resting, ...], Meta(max_length=40)] = ()


class PlanInvalid(InvalidInput):
    """A test that cannot be planned as asked, each reason with its place."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        super().__init__("; ".join(fault.message for fault in faults))
        self.faults = faults


def checked(request: PlanRequest, *, rated_life_days: int) -> PlanRequest:
    """The request itself, if it can be planned.

    Raises
    ------
    PlanInvalid
        With every reason why not.
    """
    faults = tuple(_faults(request, rated_life_days))
    if faults:
        raise PlanInvalid(faults)
    return request


def first_day_from_min(request: PlanRequest) -> int:
    """Minutes after waking from which the first day's fingersticks are due: the sensor is in and has warmed up."""
    return request.insert_after_waking_min + request.warm_up_min


def room_by_day(request: PlanRequest, *, rated_life_days: int) -> list[int]:
    """How many fingersticks each day of a wear has room for; none on a first day over before the sensor is warm."""
    first = request.daily_cap if request.waking_min - first_day_from_min(request) >= FIRST_DAY_LEAST_MIN else 0
    return [first, *[request.daily_cap] * (rated_life_days - 1)]


def _faults(request: PlanRequest, rated_life_days: int) -> list[Fault]:
    found = []
    sites = [spot.site for spot in request.spots]
    if len(set(sites)) < len(sites):
        found.append(Fault("#/spots", "repeated", "Name each site once, with all its sides."))
    if any(len(set(spot.sides)) < len(spot.sides) for spot in request.spots):
        found.append(Fault("#/spots", "repeated", "Name each side of a site once."))
    if len(sites) * request.wears_per_site > MOST_WEARS:
        found.append(Fault("#/wears_per_site", "too_many", f"A test has at most {MOST_WEARS} wears in all."))
    if request.first_day_pairs > request.daily_cap:
        message = "The first day cannot have more fingersticks than the daily cap allows."
        found.append(Fault("#/first_day_pairs", "over_cap", message))
    most = sum(room_by_day(request, rated_life_days=rated_life_days))
    if request.pairs_per_wear is not None and request.pairs_per_wear > most:
        message = f"A wear of {rated_life_days} days has room for {most} under the daily cap; ask fewer or raise it."
        found.append(Fault("#/pairs_per_wear", "over_cap", message))
    if most < FEWEST_PAIRS_A_WEAR:
        message = "A wear needs eight fingersticks to count; raise the cap."
        found.append(Fault("#/daily_cap", "too_few", message))
    if request.insert_after_waking_min >= request.waking_min:
        message = "A sensor is changed while awake: within the waking minutes."
        found.append(Fault("#/insert_after_waking_min", "asleep", message))
    return found
