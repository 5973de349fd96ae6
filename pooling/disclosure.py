"""What could anyone learn about somebody who gives a wear to a group: worked out before it is given.

The answer depends on the wear's own description, on what is known of the group, and on the rules. It never depends on
who waits there, how many do, or what has been counted: a number of that kind would itself say something about others.
"""

from collections.abc import Collection
from dataclasses import dataclass
from typing import Final, Literal

from pooling.errors import InvalidInput
from pooling.ledger.plan import EVERYONE, FEWEST_EDITIONS_COUNTED, OTHER_SITES, CellKey, Level, end_bucket, ways_in
from pooling.sealing.version import FAMILIES, FEWEST_PAIRS, FEWEST_PEOPLE
from pooling.vocabulary import SITES, label

Members = Literal["under_25", "25_to_99", "100_or_more"]
MEMBERS: Final[tuple[Members, ...]] = ("under_25", "25_to_99", "100_or_more")
BAND_STARTS: Final = (25, 100)
MOST_EDITIONS_COUNTED: Final = max(end_bucket(slot) - slot for slot in range(1, 25))

ASKED_OF: Final = {
    "accuracy": f"how far readings lie from fingersticks; needs {FEWEST_PAIRS} or more pairs that the rules let count",
    "survival": "how long the sensor stayed on, and how it came off",
    "skin": "whether the skin reacted",
    "ease": "how easy the site was to reach, as you rated it",
    "comfort": "how it was to live with, as you rated it",
    "discretion": "how far it went unseen, as you rated it",
}


@dataclass(frozen=True, slots=True)
class GroupFacts:
    """What is known of a group without looking at anybody's wear. `name` is how texts call it.

    A `room` has no figures of its own: what is given there counts in those of everyone.
    """

    name: str
    is_everyone: bool
    feeds_everyone: bool
    k: int
    k_of_everyone: int
    members: Members
    public: bool
    has_published: bool
    room: bool = False
    curated_by_everyone: bool = False
    before_model_given_up: int = 0
    before_site_given_up: int = 0


@dataclass(frozen=True, slots=True)
class Outcome:
    """One kind of figures that the wear says something about, with what stands in them."""

    family: str
    says: str


@dataclass(frozen=True, slots=True)
class Step:
    """One description under which the wear may be counted, tried when those before it found too few people.

    `fewest_people` holds for each kind of figures how many accounts must meet there.
    """

    whose: Literal["group", "everyone"]
    place: str
    sensor_model: str | None
    after_editions: int
    fewest_people: dict[str, int]
    says: str


@dataclass(frozen=True, slots=True)
class Onlooker:
    """Somebody who might want to know, and what there is for them to see."""

    who: str
    sees: str


@dataclass(frozen=True, slots=True)
class Stays:
    """What is left after taking back, and until when at the latest.

    `until_slot_if_counted_next` is the edition with which the sums end if the wear is counted at the next one.
    """

    while_waiting: str
    once_counted: str
    fewest_editions: int
    most_editions: int
    until_slot_if_counted_next: int


@dataclass(frozen=True, slots=True)
class Disclosure:
    """The whole answer for one wear and one group."""

    site: str
    sensor_model: str
    outcomes: tuple[Outcome, ...]
    steps: tuple[Step, ...]
    onlookers: tuple[Onlooker, ...]
    stays: Stays
    small_group: str | None


def band_of_members(n_members: int) -> Members:
    """The band a number of members is told in.

    Raises InvalidInput for a negative number.

    >>> [band_of_members(n) for n in (0, 24, 25, 99, 100)]
    ['under_25', 'under_25', '25_to_99', '25_to_99', '100_or_more']
    """
    if n_members < 0:
        raise InvalidInput(f"a number of members is 0 or more, not {n_members}")
    return MEMBERS[sum(n_members >= start for start in BAND_STARTS)]


def disclose(
    *, site: str, sensor_model: str, families: Collection[str], group: GroupFacts, next_slot: int
) -> Disclosure:
    """Say what could be learned about the owner of a wear that is given to a group.

    Claim: equal arguments give equal answers, and no argument tells anything about other people's wears.

    Parameters
    ----------
    site, sensor_model
        As the wear's record has them.
    families
        Of `pooling.sealing.version.FAMILIES`, those in which the wear has something to say.
    group
        Facts that any member may know.
    next_slot
        Number of the next edition date, 1 or more.

    Raises
    ------
    InvalidInput
        For an unknown site, a family that is none, no family at all, a slot below 1, a threshold below 2, or everyone
        asking for fewer people than a group that feeds it.

    Examples
    --------
    >>> harbour = GroupFacts("Harbour", False, False, 5, 5, "under_25", False, False)
    >>> told = disclose(site="calf", sensor_model="demo-a14", families=["survival"], group=harbour, next_slot=3)
    >>> [(step.place, step.sensor_model, step.after_editions, step.fewest_people) for step in told.steps]
    [('calf', 'demo-a14', 0, {'survival': 5}), ('calf', None, 2, {'survival': 5})]
    >>> told.stays.until_slot_if_counted_next
    24
    """
    _check(site, families, group, next_slot)
    scope = EVERYONE if group.is_everyone or group.room else "group"
    ways = ways_in(scope, feeds_everyone=group.feeds_everyone, site=site, sensor_model=sensor_model)
    told = tuple(family for family in FAMILIES if family in families)
    return Disclosure(
        site=site,
        sensor_model=sensor_model,
        outcomes=tuple(Outcome(family, ASKED_OF[family]) for family in told),
        steps=tuple(_step(level, cell, told, group) for level, cell in ways),
        onlookers=_onlookers(group),
        stays=_stays(next_slot),
        small_group=None
        if group.is_everyone or group.members != MEMBERS[0]
        else small_group(group.feeds_everyone, room=group.room),
    )


def _check(site: str, families: Collection[str], group: GroupFacts, next_slot: int) -> None:
    if site not in SITES:
        raise InvalidInput(f"there is no site {site!r}")
    unknown = sorted(set(families) - set(FAMILIES))
    if unknown or not families:
        raise InvalidInput(f"a wear says something about one or more of {', '.join(FAMILIES)}; not {unknown}")
    if next_slot < 1:
        raise InvalidInput(f"edition dates are counted from 1, not {next_slot}")
    if min(group.k, group.k_of_everyone) < 2:
        raise InvalidInput("fewer than 2 people protect nobody")
    if group.feeds_everyone and group.k > group.k_of_everyone:
        raise InvalidInput("everyone asks for at least as many people as every group that feeds it")


def _step(level: Level, cell: CellKey, families: tuple[str, ...], group: GroupFacts) -> Step:
    k = group.k_of_everyone if level.scope == "everyone" else group.k
    return Step(
        whose=level.scope,
        place=cell.place,
        sensor_model=cell.sensor_model,
        after_editions=_wait(level, group),
        fewest_people={family: max(k, FEWEST_PEOPLE.get(family, 0)) for family in families},
        says=_in_words(level, cell, group),
    )


def _wait(level: Level, group: GroupFacts) -> int:
    return level.wait_of(group.before_model_given_up, group.before_site_given_up)


def _in_words(level: Level, cell: CellKey, group: GroupFacts) -> str:
    whose = "everyone" if level.scope == "everyone" else group.name
    place = "other sites, not said which" if cell.place == OTHER_SITES else label(cell.place)
    model = "any sensor model" if cell.sensor_model is None else f"sensor model {cell.sensor_model}"
    wait = _wait(level, group)
    waits = f"after {wait} edition dates without company" if wait else "at once"
    return f"Tried {waits}: counted in the figures of {whose} for {place}, {model}."


def _onlookers(group: GroupFacts) -> tuple[Onlooker, ...]:
    return (
        Onlooker("another member", _member_sees(group)),
        Onlooker(f"a moderator of {'everyone' if group.curated_by_everyone else 'the group'}", _moderator_sees(group)),
        Onlooker("the operator", OPERATOR_SEES),
        Onlooker("an employer or insurer", _outsider_sees(group)),
        Onlooker("a court", COURT_SEES),
    )


def _moderator_sees(group: GroupFacts) -> str:
    is_small = (group.members == "under_25" or group.room) and not group.is_everyone
    if is_small and not group.curated_by_everyone:
        readings = "No single reading"
    else:
        readings = "Each pair with its day, rounded to 10 mg/dL or 0.5 mmol/L"
    k = group.k_of_everyone if group.curated_by_everyone else group.k
    return (
        f"The wear without your name, on a Monday on which wears of {k} people or more have come together: site, "
        "sensor model, whole days worn, how many pairs on which day, what looks odd, and how far the readings were off "
        f"together. {readings}, no clock time, no sign-in name. Whoever knows what you wear may still recognise it. "
        "Once a wear is counted it is in the list no more."
    )


OPERATOR_SEES: Final = (
    "Which account uploaded it, and its readings as long as they are kept: twelve months at most, unless you erase "
    "them earlier. The account has no name and no e-mail address. For as long as you keep the account, the operator's "
    "database knows in which sums it has a part; for whoever holds all of that only noise hides your value."
)
COURT_SEES: Final = (
    "What the operator could be ordered to hand over: what is there on that day. While the readings are kept they "
    "hang on an account with a made-up name. What is erased is gone, from copies too once they are replaced; sums of "
    "several people and the editions stay. This is no legal advice."
)


def _member_sees(group: GroupFacts) -> str:
    published = "published figures" if group.has_published else "figures, once some are published,"
    is_small = group.members == "under_25" and not group.is_everyone
    others = "you alone" if is_small else "few people"
    guess = f" Whoever knows that {others} would wear a sensor there can guess that a row about it has you in it."
    return (
        f"Only {published} each about {group.k} people or more. Not your wear, not whether you gave one, not whether "
        f"it waits or counts.{guess}"
    )


def _outsider_sees(group: GroupFacts) -> str:
    if group.public:
        figures = "The group's editions, as everybody can: figures about several people, never a row about one."
    elif group.feeds_everyone:
        figures = "Nothing of the group, which is not public. Figures of everyone, in which your wear may count, are."
    else:
        figures = "Nothing, unless a member shows them the group's editions; this group is not public."
    return (
        f"{figures} No list of members, no wear and no account is open to them. Somebody with your phone or your "
        f"sign-in name and password sees what you see."
    )


def _stays(next_slot: int) -> Stays:
    return Stays(
        while_waiting="Before it is counted, nothing stays: it never enters any figure.",
        once_counted=(
            "Once it is counted, its readings, its statistics and the link to your account are erased at once. The "
            "sums that already count it stay: they are about several people and cannot be taken apart. They end on "
            f"dates that were fixed when they were made, {FEWEST_EDITIONS_COUNTED} to {MOST_EDITIONS_COUNTED} editions "
            "after the wear was first counted in them; each kind of figures may first count it at another date. "
            "Moderators can end sums of a site and sensor model earlier, never later. Published editions are never "
            "changed. Marks that only keep the same wear from being counted twice are kept for good."
        ),
        fewest_editions=FEWEST_EDITIONS_COUNTED,
        most_editions=MOST_EDITIONS_COUNTED,
        until_slot_if_counted_next=end_bucket(next_slot),
    )


def small_group(feeds_everyone: bool, *, room: bool = False) -> str:
    """What whoever founds a small group, or gives a wear to one, is told.

    >>> "few rows by site" in small_group(feeds_everyone=True)
    True
    """
    if room:
        return (
            f"A group of fewer than {BAND_STARTS[0]} members has few rows by site of its own, or none. This one is a "
            "room: it shows the figures of everyone, and what its members give counts there from the start. When it "
            "has grown, its moderators can have it make figures of its own."
        )
    elsewhere = (
        "Most of what its members give is counted in the figures of everyone instead."
        if feeds_everyone
        else "It does not feed everyone, so what finds too little company here waits on, perhaps for ever."
    )
    return (
        f"A group of fewer than {BAND_STARTS[0]} members has few rows by site of its own, or none. {elsewhere} How "
        "likely a row is can be worked out from numbers that you type; members are not told how many wears wait."
    )
