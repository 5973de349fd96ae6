"""Who may enter the pool together, when, and how coarsely described.

Plans only: identifiers go in, groups of identifiers come out. Nothing here reads a reading, a clock or a database.

At each cut-off the wears that wait are sorted by a keyed digest and offered to one level after the other, the finest
first. Within a level they fall into pools, one per cell, and a pool with wears of at least k people is one block. What
no level takes goes on waiting. A wear that has been in a block never reaches this module again, so every block consists
of people none of whose wears in it was ever counted before.
"""

import hmac
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import total_ordering
from typing import Literal

from pooling.errors import InvalidInput
from pooling.ledger.ties import PlannedTie, plan_ties
from pooling.vocabulary import REGIONS_WITH_ROW, SITES, region_of

EVERYONE = "everyone"
OTHER_SITES = "other"
ANY_MODEL = "*"
OPEN_WEARS_CAP = 3
FEWEST_PEOPLE = 2
FEWEST_EDITIONS_COUNTED = 19
EDITIONS_BETWEEN_ENDS = 6

Thresholds = Callable[[str], int] | Mapping[str, int]


@total_ordering
@dataclass(frozen=True, slots=True)
class CellKey:
    """Where a block belongs: whose pool, which place on the body, which sensor model (None: any)."""

    scope: str
    place: str
    sensor_model: str | None

    def __post_init__(self) -> None:
        for part in (self.scope, self.place, self.sensor_model):
            if part is not None and (not part or "|" in part):
                raise InvalidInput(f"a cell's scope, place and sensor model are non-empty and hold no '|': {part!r}")
        if self.sensor_model == ANY_MODEL:
            raise InvalidInput(f"a cell of any sensor model is written with None, not {ANY_MODEL!r}")

    def __lt__(self, other: object) -> bool:
        if not isinstance(other, CellKey):
            return NotImplemented
        return self._sort_key < other._sort_key

    @property
    def _sort_key(self) -> tuple[str, str, str]:
        return (self.scope, self.place, self.sensor_model or "")

    @property
    def text(self) -> str:
        """One string for storage and logs: ``scope|place|model``, with ``*`` for any model."""
        return f"{self.scope}|{self.place}|{self.sensor_model or ANY_MODEL}"

    @classmethod
    def parse(cls, text: str) -> "CellKey":
        """Read back what `text` wrote.

        >>> CellKey.parse("everyone|thigh|*")
        CellKey(scope='everyone', place='thigh', sensor_model=None)
        """
        parts = text.split("|")
        if len(parts) != 3:
            raise InvalidInput(f"a cell is written scope|place|model, not {text!r}")
        scope, place, model = parts
        return cls(scope, place, None if model == ANY_MODEL else model)

    def could_hold(self, site: str, sensor_model: str) -> bool:
        """Whether a wear of this site and sensor model may be counted in this cell (the scope is not looked at)."""
        if self.sensor_model not in (None, sensor_model):
            return False
        return self.place in (site, region_of(site), OTHER_SITES)


@dataclass(frozen=True, slots=True)
class Level:
    """One way to describe a wear: whose pool, how exact a place, with its model or not, after how many editions."""

    scope: Literal["group", "everyone"]
    place: Literal["site", "region", "other"]
    model: bool
    wait: int

    def wait_of(self, before_model_given_up: int, before_site_given_up: int) -> int:
        """How many editions a wear waits before this level is tried: the level's own wait, or a group's longer one."""
        if self.model:
            return self.wait
        return max(self.wait, before_model_given_up if self.place == "site" else before_site_given_up)


# The model is given up after two editions of waiting and the site after four: giving the model up at once would leave
# most of a steady community without rows by model.
LEVELS = (
    Level("group", "site", model=True, wait=0),
    Level("everyone", "site", model=True, wait=0),
    Level("group", "site", model=False, wait=2),
    Level("everyone", "site", model=False, wait=2),
    Level("group", "region", model=False, wait=4),
    Level("everyone", "region", model=False, wait=4),
    Level("everyone", "other", model=False, wait=4),
)


@dataclass(frozen=True, slots=True)
class Waiting:
    """A wear that waits. `person` is the account, which the threshold counts; `wearer` the body, which the cap counts.

    `waited` counts editions since it began to wait; `aged` says that the account is old enough to be counted;
    `places_open` counts the wearer's open places whose cell could hold a wear of this site and model. A group may have
    its wears wait longer than the levels do before the sensor model, or the site, is given up.
    """

    wear: str
    person: str
    wearer: str
    group: str
    feeds_everyone: bool
    site: str
    sensor_model: str
    waited: int
    aged: bool
    places_open: int
    before_model_given_up: int = 0
    before_site_given_up: int = 0


@dataclass(frozen=True, slots=True)
class PlannedBlock:
    """Wears to be counted together from now on, and the people (accounts) they come from."""

    cell: CellKey
    wears: tuple[str, ...]
    people: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """The outcome of one cut-off. The cells of a tie are cells of its blocks, its linkers are wearers."""

    blocks: tuple[PlannedBlock, ...]
    ties: tuple[PlannedTie, ...]
    still_waiting: tuple[str, ...]


def plan(
    waiting: Iterable[Waiting],
    *,
    slot_key: bytes,
    k_of: Thresholds,
    cap: int = OPEN_WEARS_CAP,
    levels: Sequence[Level] = LEVELS,
) -> Plan:
    """Plan the blocks of one cut-off, and the ties between them.

    Claim: every block holds wears of at least `k_of(scope)` people; every wear is in at most one block; no cell has two
    blocks; ties keep the promise of `plan_ties`; the plan is the same for any order of `waiting`.

    Assumptions: no wear in `waiting` was ever in a block; the threshold of everyone is no lower than that of any group
    that feeds it.

    Parameters
    ----------
    waiting
        All wears that wait, each once.
    slot_key
        Random bytes, used for this cut-off only and forgotten after it. They decide which of a wearer's wears come
        first under the cap, and who is held back from a tie: nobody can arrange it by choosing when or what to upload.
    k_of
        The threshold of each scope (a group, or ``"everyone"``), at least 2.
    cap
        How many open wears one wearer may have at a site with a sensor model, counting those counted already.
    levels
        What to try, first to last.

    Returns
    -------
    Plan
        Blocks by level and cell, wears and people in them in keyed order; ties by scope and cells; the wears that wait
        on, in keyed order.

    Raises
    ------
    InvalidInput
        For an empty key, a cap below 1, a wear listed twice, a negative count, an unknown site, a scope without
        threshold, a threshold below 2, or a group that feeds everyone with a threshold above that of everyone.
    """
    ordered = _keyed_order(waiting, slot_key)
    thresholds = _thresholds(ordered, k_of)
    left = _within_cap((wear for wear in ordered if wear.aged), cap)
    blocks: list[PlannedBlock] = []
    placed: set[str] = set()
    for level in levels:
        for cell, pool in sorted(_pools(left, level).items()):
            people = tuple(dict.fromkeys(wear.person for wear in pool))
            if len(people) >= thresholds[cell.scope]:
                blocks.append(PlannedBlock(cell, tuple(wear.wear for wear in pool), people))
        placed.update(wear for block in blocks for wear in block.wears)
        left = [wear for wear in left if wear.wear not in placed]
    ties = _ties(blocks, {wear.wear: wear for wear in ordered}, thresholds)
    return Plan(tuple(blocks), ties, tuple(wear.wear for wear in ordered if wear.wear not in placed))


def ways_in(
    group: str, *, feeds_everyone: bool, site: str, sensor_model: str, levels: Sequence[Level] = LEVELS
) -> tuple[tuple[Level, CellKey], ...]:
    """Where a wear may come to be counted: each level that is for it, in the order tried, with the cell there.

    Raises InvalidInput for an unknown site.

    >>> [cell.text for _, cell in ways_in("harbour", feeds_everyone=False, site="calf", sensor_model="demo-a14")]
    ['harbour|calf|demo-a14', 'harbour|calf|*']
    """
    tried = ((level, _cell_at(level, group, feeds_everyone, site, sensor_model)) for level in levels)
    return tuple((level, cell) for level, cell in tried if cell is not None)


def end_bucket(slot: int) -> int:
    """The slot from which a block admitted at `slot` counts no more.

    Ends fall on every sixth slot for all blocks alike, so that an end names no slot of admission. A block is counted
    in at least 19 and at most 24 editions.

    >>> [end_bucket(slot) for slot in (1, 5, 6, 11, 12)]
    [24, 24, 30, 30, 36]
    """
    if slot < 0:
        raise InvalidInput(f"slots are counted from 0 upwards, not {slot}")
    earliest = slot + FEWEST_EDITIONS_COUNTED
    return -(-earliest // EDITIONS_BETWEEN_ENDS) * EDITIONS_BETWEEN_ENDS


def _keyed_order(waiting: Iterable[Waiting], slot_key: bytes) -> list[Waiting]:
    if not slot_key:
        raise InvalidInput("the slot key is empty")
    by_wear: dict[str, Waiting] = {}
    for wear in waiting:
        if wear.wear in by_wear:
            raise InvalidInput(f"wear {wear.wear} is listed twice")
        if wear.waited < 0 or wear.places_open < 0:
            raise InvalidInput(f"wear {wear.wear}: editions waited and open places are counts, 0 or more")
        if wear.site not in SITES:
            raise InvalidInput(f"wear {wear.wear}: there is no site {wear.site!r}")
        by_wear[wear.wear] = wear
    return sorted(by_wear.values(), key=lambda wear: hmac.digest(slot_key, wear.wear.encode(), "sha256"))


def _thresholds(waiting: Sequence[Waiting], k_of: Thresholds) -> dict[str, int]:
    groups = {wear.group for wear in waiting}
    feeders = {wear.group for wear in waiting if wear.feeds_everyone}
    scopes = groups | {EVERYONE} if feeders else groups
    thresholds = {scope: _threshold(scope, k_of) for scope in scopes}
    for group in sorted(feeders):
        if thresholds[group] > thresholds[EVERYONE]:
            raise InvalidInput(f"group {group} feeds everyone but promises its members a higher threshold")
    return thresholds


def _threshold(scope: str, k_of: Thresholds) -> int:
    try:
        k = k_of[scope] if isinstance(k_of, Mapping) else k_of(scope)
    except KeyError:
        raise InvalidInput(f"no threshold is given for {scope}") from None
    if k < FEWEST_PEOPLE:
        raise InvalidInput(f"the threshold of {scope} is {k}; below {FEWEST_PEOPLE} people it protects nobody")
    return k


def _within_cap(ordered: Iterable[Waiting], cap: int) -> list[Waiting]:
    if cap < 1:
        raise InvalidInput(f"the cap on open wears is {cap}; below 1 nobody could enter")
    taken: dict[tuple[str, str, str], int] = {}
    within = []
    for wear in ordered:
        spot = (wear.wearer, wear.site, wear.sensor_model)
        if wear.places_open + taken.get(spot, 0) < cap:
            taken[spot] = taken.get(spot, 0) + 1
            within.append(wear)
    return within


def _pools(ordered: Iterable[Waiting], level: Level) -> dict[CellKey, list[Waiting]]:
    pools: dict[CellKey, list[Waiting]] = {}
    for wear in ordered:
        cell = _cell(wear, level)
        if cell is not None:
            pools.setdefault(cell, []).append(wear)
    return pools


def _cell(wear: Waiting, level: Level) -> CellKey | None:
    """The cell that would hold the wear at this level, or None where the level is not for it (yet)."""
    if wear.waited < level.wait_of(wear.before_model_given_up, wear.before_site_given_up):
        return None
    return _cell_at(level, wear.group, wear.feeds_everyone, wear.site, wear.sensor_model)


def _cell_at(level: Level, group: str, feeds_everyone: bool, site: str, sensor_model: str) -> CellKey | None:
    scope, place = _scope(group, feeds_everyone, level), _place(site, level)
    if scope is None or place is None:
        return None
    return CellKey(scope, place, sensor_model if level.model else None)


def _scope(group: str, feeds_everyone: bool, level: Level) -> str | None:
    if level.scope == "everyone":
        return EVERYONE if feeds_everyone or group == EVERYONE else None
    # A wear given straight to everyone has no peer group: it meets the others at everyone's own levels.
    return None if group == EVERYONE else group


def _place(site: str, level: Level) -> str | None:
    if level.place == "site":
        return site
    if level.place == "other":
        return OTHER_SITES
    region = region_of(site)
    return region if region in REGIONS_WITH_ROW else None


def _ties(
    blocks: Sequence[PlannedBlock], waiting: Mapping[str, Waiting], thresholds: Mapping[str, int]
) -> tuple[PlannedTie, ...]:
    """Ties scope by scope; one wearer an account may link, so that linkers count as people."""
    cells: dict[str, dict[str, dict[str, set[CellKey]]]] = {}
    for cell, wear in ((block.cell, waiting[name]) for block in blocks for name in block.wears):
        wearers = cells.setdefault(cell.scope, {}).setdefault(wear.person, {})
        wearers.setdefault(wear.wearer, set()).add(cell)
    ties: list[PlannedTie] = []
    place_of = {person: place for place, person in enumerate(dict.fromkeys(one.person for one in waiting.values()))}
    for scope, accounts in sorted(cells.items()):
        keyed = sorted(accounts, key=place_of.__getitem__)
        ties += plan_ties(dict(_at_most_cells(accounts[person]) for person in keyed), thresholds[scope])
    return tuple(ties)


def _at_most_cells(own: Mapping[str, set[CellKey]]) -> tuple[str, set[CellKey]]:
    """Of one account's wearers the one at most cells, the first by name among equals; with the cells."""
    return min(own.items(), key=lambda item: (-len(item[1]), item[0]))
