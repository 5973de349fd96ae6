"""How likely a group shows rows of its own, from numbers that somebody types: for whoever thinks of founding one."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from pooling.errors import InvalidInput
from pooling.ledger.plan import (
    FEWEST_EDITIONS_COUNTED,
    FEWEST_PEOPLE,
    OPEN_WEARS_CAP,
    CellKey,
    Waiting,
    plan,
)
from pooling.vocabulary import SITES

N_RUNS: Final = 100
MOST_MONTHS: Final = FEWEST_EDITIONS_COUNTED - 1  # before the first sums end
MOST: Final = {
    "members": 100,
    "wears_a_month": 100,
    "sites": len(SITES),
    "sites_a_member": len(SITES),
    "sensor_models": 20,
    "k": 50,
    "months": MOST_MONTHS,
}
ASSUMED: Final = (
    "The group counts by itself: a group that feeds everyone has fewer rows of its own, and its members' wears count "
    "with everyone's.",
    "Every month the same number of wears comes in, each from any member with the same chance, and none is left out.",
    "Each member keeps to one sensor model and to as many sites as was typed, drawn at random; nobody joins or leaves.",
    "All accounts are old enough to count, and a figure about readings is meant: each wear has enough pairs.",
)


@dataclass(frozen=True, slots=True)
class Typed:
    """The numbers that were typed. `sites` are those worn in the group at all, `sites_a_member` those one keeps to."""

    members: int
    wears_a_month: int
    sites: int
    sites_a_member: int = 2
    sensor_models: int = 1
    k: int = 5
    months: int = 12

    def __post_init__(self) -> None:
        for name, most in MOST.items():
            least = FEWEST_PEOPLE if name == "k" else 1
            if not least <= getattr(self, name) <= most:
                raise InvalidInput(f"{name} is a whole number from {least} to {most}, not {getattr(self, name)}")
        if self.sites_a_member > self.sites:
            raise InvalidInput(f"a member cannot keep to {self.sites_a_member} of {self.sites} sites")


@dataclass(frozen=True, slots=True)
class Odds:
    """Shares of simulated groups, 0 to 1, and of their wears, after the typed months.

    `any_site_row_frac`: groups that show a row of some site. `given_site_row_frac`: how likely one of the worn sites
    has a row. `still_waiting_frac`: wears that are in no figure yet. With `n_runs` groups a share has a standard error
    of at most 0.5 / sqrt(n_runs).
    """

    any_site_row_frac: float
    given_site_row_frac: float
    still_waiting_frac: float
    n_runs: int
    assumed: tuple[str, ...]


def odds_of_rows(typed: Typed, rng: np.random.Generator, *, n_runs: int = N_RUNS) -> Odds:
    """Play invented groups through the planner that will decide about real ones, and count.

    Claim: nothing enters but the typed numbers, the rules and the generator; the assumptions are `ASSUMED`.

    Why by simulation: waits, the cap on one wearer's wears and the coarser descriptions act on each other, and no
    formula holds all of them. For one site and one model it comes down to how many of the members are among those who
    wore at all, whose distribution is known, and the tests compare with it.

    Raises
    ------
    InvalidInput
        For numbers out of range (already by `Typed`), or fewer than one run.

    Examples
    --------
    >>> odds_of_rows(Typed(members=4, wears_a_month=9, sites=1, sites_a_member=1), np.random.default_rng(1), n_runs=5)
    ... # doctest: +ELLIPSIS
    Odds(any_site_row_frac=0.0, given_site_row_frac=0.0, still_waiting_frac=1.0, n_runs=5, ...)
    """
    if n_runs < 1:
        raise InvalidInput(f"at least one group is played through, not {n_runs}")
    played = [_play(typed, rng) for _ in range(n_runs)]
    return Odds(
        any_site_row_frac=float(np.mean([n_rows > 0 for n_rows, _ in played])),
        given_site_row_frac=float(np.mean([n_rows / typed.sites for n_rows, _ in played])),
        still_waiting_frac=float(np.mean([waiting for _, waiting in played])),
        n_runs=n_runs,
        assumed=ASSUMED,
    )


@dataclass(frozen=True, slots=True)
class _Wear:
    """A wear that waits: whose it is by number, where and of which model, and since which month."""

    member: int
    site: str
    sensor_model: str
    month: int


def _play(typed: Typed, rng: np.random.Generator) -> tuple[int, float]:
    """One invented group: how many sites have a row in the end, and the share of wears in no figure."""
    sites = rng.choice(SITES, typed.sites, replace=False).tolist()
    kept = [rng.choice(sites, typed.sites_a_member, replace=False).tolist() for _ in range(typed.members)]
    models = [f"model {number}" for number in rng.integers(typed.sensor_models, size=typed.members)]
    waiting: list[_Wear] = []
    counted: list[Counter[CellKey]] = [Counter() for _ in range(typed.members)]
    for month in range(typed.months):
        members = rng.integers(typed.members, size=typed.wears_a_month).tolist()
        which = rng.integers(typed.sites_a_member, size=typed.wears_a_month).tolist()
        new = [
            _Wear(member, kept[member][place], models[member], month)
            for member, place in zip(members, which, strict=True)
        ]
        waiting = _cut_off([*waiting, *new], counted, typed.k, month, rng.bytes(16))
    cells = frozenset().union(*counted)
    n_wears = typed.months * typed.wears_a_month
    return len({cell.place for cell in cells} & set(sites)), 1 - sum(own.total() for own in counted) / n_wears


def _cut_off(
    waiting: Sequence[_Wear], counted: Sequence[Counter[CellKey]], k: int, month: int, slot_key: bytes
) -> list[_Wear]:
    """What may still be counted after one edition date; `counted` takes up what is, by member and cell.

    No sums end within the months that are played, so a wear beyond the cap never enters and need not be carried along.
    """
    planned = plan(
        [_in_the_planners_words(str(number), wear, counted, month) for number, wear in enumerate(waiting)],
        slot_key=slot_key,
        k_of=lambda _: k,
    )
    for block in planned.blocks:
        for name in block.wears:
            counted[waiting[int(name)].member][block.cell] += 1
    left = [waiting[int(name)] for name in planned.still_waiting]
    return [wear for wear in left if _places_open(wear, counted) < OPEN_WEARS_CAP]


def _in_the_planners_words(name: str, wear: _Wear, counted: Sequence[Counter[CellKey]], month: int) -> Waiting:
    return Waiting(
        wear=name,
        person=str(wear.member),
        wearer=str(wear.member),
        group="group",
        feeds_everyone=False,
        site=wear.site,
        sensor_model=wear.sensor_model,
        waited=month - wear.month,
        aged=True,
        places_open=_places_open(wear, counted),
    )


def _places_open(wear: _Wear, counted: Sequence[Counter[CellKey]]) -> int:
    return sum(n for cell, n in counted[wear.member].items() if cell.could_hold(wear.site, wear.sensor_model))
