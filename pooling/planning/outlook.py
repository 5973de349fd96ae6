"""What a fair test can show, before anything is drawn, and what more fingersticks or wears would bring."""

from collections.abc import Mapping, Sequence
from typing import Any

from msgspec import Struct

from pooling.planning.precision import WearSpread, enough_pairs, precision, wear_spread
from pooling.planning.request import FEWEST_PAIRS_A_WEAR, REST_DAYS, PlanRequest, checked, room_by_day
from pooling.starter import SPREADS_CITE
from pooling.vocabulary import label

MOST_PAIRS = 200
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


class CanShow(Struct, frozen=True):
    """What a test can tell of the difference between any two of its sites, in points of MARD."""

    margin_points: float
    seen_4_of_5_points: float
    enough_pairs_per_wear: int
    basis: str
    says: tuple[str, ...]


class Step(Struct, frozen=True):
    """What another number of fingersticks a wear would show."""

    pairs_per_wear: int
    margin_points: float
    seen_4_of_5_points: float


class Outlook(Struct, frozen=True):
    """A test as it would be: how long and how many wears and fingersticks, and what it can show. Nothing is drawn."""

    n_wears: int
    n_days_at_least: int
    pairs_per_wear: int
    can_show: CanShow
    steps: tuple[Step, ...]
    notes: tuple[str, ...]


def outlook(
    request: PlanRequest,
    *,
    rated_life_days: int,
    licensed_sites: Sequence[str] = (),
    document: Mapping[str, Any] | None = None,
) -> Outlook:
    """What a test would take and show; parameters and errors as `make_plan`."""
    checked(request, rated_life_days=rated_life_days)
    spread = wear_spread(document)
    n_pairs = pairs_asked(request, spread, rated_life_days)
    n_wears = request.wears_per_site * len(request.spots)
    return Outlook(
        n_wears=n_wears,
        n_days_at_least=n_wears * rated_life_days,
        pairs_per_wear=n_pairs,
        can_show=can_show(request, spread, n_pairs),
        steps=tuple(_step(request, spread, n) for n in _numbers(n_pairs, enough_pairs(spread))),
        notes=notes(request, spread, licensed_sites),
    )


def pairs_asked(request: PlanRequest, spread: WearSpread, rated_life_days: int) -> int:
    """Fingersticks a wear: as asked, else as many as help and the daily cap has room for."""
    return request.pairs_per_wear or min(
        enough_pairs(spread), sum(room_by_day(request, rated_life_days=rated_life_days))
    )


def _numbers(n_pairs: int, enough: int) -> list[int]:
    """The number itself among the least that counts, half and all of what is enough, and twice that."""
    found = {FEWEST_PAIRS_A_WEAR, max(enough // 2, FEWEST_PAIRS_A_WEAR), enough, min(2 * enough, MOST_PAIRS), n_pairs}
    return sorted(found)


def _step(request: PlanRequest, spread: WearSpread, n_pairs: int) -> Step:
    found = precision(spread, pairs_per_wear=n_pairs, wears_per_site=request.wears_per_site)
    return Step(n_pairs, round(found.margin_points, 1), round(found.seen_points, 1))


def can_show(request: PlanRequest, spread: WearSpread, n_pairs: int) -> CanShow:
    """What the test can tell, in figures and in words."""
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


def notes(request: PlanRequest, spread: WearSpread, licensed_sites: Sequence[str]) -> tuple[str, ...]:
    """What is to be known beside the figures."""
    unnamed = [label(spot.site) for spot in request.spots if spot.site not in licensed_sites]
    found = [NOTE_OFF_LABEL.format(", ".join(unnamed))] if unnamed else []
    found += [NOTE_LOT, NOTE_EVERY, NOTE_REST, NOTE_NIGHT, NOTE_EARLY]
    if request.first_day_pairs:
        found.append(NOTE_FIRST_DAY)
    if spread.basis == "starter":
        found.append(NOTE_STARTER)
    return tuple(found)
