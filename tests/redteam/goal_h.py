"""Goal H: no published share, and no band of people, gives away a number of people from one to k - 1.

The skin reactions, the days on the skin and the ways of coming off of invented communities, counted as people in every
cell of the table. The attacker turns each published figure back into all numbers of people that could stand behind it,
and takes shares from one another. A naive build prints every share of k people and more, and exact numbers of people.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from itertools import pairwise
from typing import Any

import numpy as np

from pooling.hierarchy.results import Estimate
from pooling.protection import (
    Published,
    Withheld,
    band_people,
    publish_falling,
    publish_share,
    publish_split,
)
from pooling.sealing.version import DAYS_ON
from pooling.simulate.community import GroupPlan
from tests.redteam.ledgers import Given, K, all_cells, community, owners_of
from tests.redteam.registry import Effort, Goal, Line

REACTION_FRAC, OFF_A_DAY = 0.15, 0.015
SKIN_K = 10
*EARLIER, LAST = DAYS_ON
WAYS_OFF = ("adhesive", "device", "body", "other")
WAYS_SHARES = (0.5, 0.25, 0.15, 0.1)


def run(effort: Effort) -> Iterator[Line]:
    n_worlds = effort.pick(10, 1)
    rates = {"naive": Counter[str](), "ours": Counter[str]()}
    steps, parts, rests = Counter[str](), Counter[str](), Counter[str]()
    overlaps = {"naive": 0, "ours": 0}
    n_overlaps = 0
    for number in range(n_worlds):
        rng = np.random.default_rng([effort.seed, 8, number])
        given = community(rng, [GroupPlan("harbour", (120, 300, 1000)[number % 3])])
        people = _people(given)
        for n_with, n_people, k in _shares(rng, people):
            rates["naive"] += _naive_share(n_with, n_people, k)
            rates["ours"] += _our_share(n_with, n_people, k)
        for n_on, n_off, n_people in _courses(rng, people):
            steps += _steps(n_on, n_people)
            parts += _parts(n_off, n_people)
        rests += _rests(rng, people)
        for family in _families(people):
            n_overlaps += 1
            overlaps["naive"] += _pinned(people, family, exact=True)
            overlaps["ours"] += _pinned(people, family, exact=False)
    naive, ours = rates["naive"], rates["ours"]
    yield Line(
        f"{ours['shown']:,} shares in {n_worlds} worlds: 1 to k - 1 people on a side",
        f"{naive['thin']:,} of {naive['shown']:,}",
        f"{ours['thin']}",
        ours["thin"] == 0 < naive["thin"] and ours["shown"] > 0,
    )
    yield Line(
        "people on a side known to be 1 to k - 1",
        f"{naive['known']:,}",
        f"{ours['known']}",
        ours["known"] == 0 < naive["known"],
    )
    for what, found in (("steps between days", steps), ("ways of coming off, and what they leave", parts)):
        yield Line(
            f"{found['shown']:,} {what}: 1 to k - 1 people",
            f"{found['thin, naive']:,} of {found['shown, naive']:,}",
            f"{found['thin']}",
            found["thin"] == 0 < found["thin, naive"] and found["shown"] > 0,
        )
    yield Line(
        f"{rests['naive, shown']:,} sites less their shown models: 1 to k - 1 people",
        f"{rests['naive']} known",
        f"{rests['ours']} known",
        rests["ours"] == 0 < rests["naive"],
    )
    yield Line(
        f"people in both of two cells, {n_overlaps} pairs: known to be 1 to k - 1",
        f"{overlaps['naive']}",
        f"{overlaps['ours']}",
        overlaps["ours"] == 0 < overlaps["naive"],
    )


def _people(given: Sequence[Given]) -> dict[str, frozenset[str]]:
    """The people of every cell of k and more."""
    person = owners_of(given)
    cells = {cell: frozenset(person[wear] for wear in wears) for cell, wears in all_cells(given).items()}
    return {cell: inside for cell, inside in cells.items() if len(inside) >= K}


# Shares


def _shares(rng: np.random.Generator, people: Mapping[str, frozenset[str]]) -> Iterator[tuple[int, int, int]]:
    """Of each cell: who had a reaction, and who was still on at each day; with the k of the family."""
    everybody = sorted({person for inside in people.values() for person in inside})
    reacted = {person for person in everybody if rng.random() < REACTION_FRAC}
    days_on = {person: float(rng.exponential(1 / OFF_A_DAY)) for person in everybody}
    for inside in people.values():
        yield len(inside & reacted), len(inside), SKIN_K
        for day in DAYS_ON:
            yield sum(days_on[person] >= day for person in inside), len(inside), K


def _naive_share(n_with: int, n_people: int, k: int) -> Counter[str]:
    if n_people < k:
        return Counter()
    thin = any(0 < side < k for side in (n_with, n_people - n_with))
    return Counter(shown=1, thin=int(thin), known=int(thin))


def _our_share(n_with: int, n_people: int, k: int) -> Counter[str]:
    figure = publish_share(_share_of(n_with, n_people), n_people=n_people, k=k)
    if isinstance(figure, Withheld):
        return Counter()
    sides = [(n, total - n) for n, total in _behind(figure, n_people, k)]
    is_number = figure.bound is None
    return Counter(
        shown=1,
        thin=int(is_number and any(side < k for side in (n_with, n_people - n_with))),
        known=int(any(all(0 < side[at] < k for side in sides) for at in (0, 1))),
    )


def _behind(figure: Published, n_people: int, k: int) -> list[tuple[int, int]]:
    """Every number of people with it and of all, in the same band, of which the same would have been published."""
    band = band_people(n_people)
    below = band.below or 2 * band.at_least
    totals = np.unique(np.linspace(band.at_least, below - 1, 12).round().astype(int)).tolist()
    assert n_people >= band.at_least
    return [
        (n, total)
        for total in {*totals, n_people}
        for n in _near(figure, total)
        if publish_share(_share_of(n, total), n_people=total, k=k) == figure
    ]


def _near(figure: Published, total: int) -> Sequence[int]:
    """Numbers of people worth trying: all beyond a bound, else those around the share."""
    if figure.bound is not None:
        return range(total + 1)
    middle = int(Decimal(total) * (figure.value or 0) / 100)
    return [n for n in range(middle - 3, middle + 4) if 0 <= n <= total]


# Shares that are taken from one another


def _courses(
    rng: np.random.Generator, people: Mapping[str, frozenset[str]]
) -> Iterator[tuple[dict[int, int], dict[str, int], int]]:
    """Of each cell: who was still on at each day, and of the others at the last day why not."""
    everybody = sorted({person for inside in people.values() for person in inside})
    days_on = {person: float(rng.exponential(1 / OFF_A_DAY)) for person in everybody}
    way = {person: str(rng.choice(WAYS_OFF, p=WAYS_SHARES)) for person in everybody}
    for inside in people.values():
        n_on = {day: sum(days_on[person] >= day for person in inside) for day in DAYS_ON}
        off = Counter(way[person] for person in inside if days_on[person] < LAST)
        yield n_on, {name: off[name] for name in WAYS_OFF}, len(inside)


def _share_of(n: int, n_people: int) -> Estimate:
    """What a model without any doubt would say: the very share."""
    pct = 100 * n / n_people
    return Estimate(pct, pct, pct)


def _is_thin(n: int) -> bool:
    return 0 < n < K


def _printed(figures: Mapping[Any, Published | Withheld]) -> list[Any]:
    """Which of them are numbers and not only bounds."""
    return [name for name, each in figures.items() if isinstance(each, Published) and each.bound is None]


def _steps(n_on: Mapping[int, int], n_people: int) -> Counter[str]:
    """People who came off between two printed days, from the start on."""
    last = publish_share(_share_of(n_on[LAST], n_people), n_people=n_people, k=K)
    shares = {day: _share_of(n_on[day], n_people) for day in EARLIER}
    shown = _printed(publish_falling(shares, last, n_people=n_people, k=K) | {LAST: last})
    ours = [n_on.get(before, n_people) - n_on[day] for before, day in pairwise([0, *shown])]
    naive = [n_on.get(before, n_people) - n_on[day] for before, day in pairwise([0, *DAYS_ON])]
    return _counted(ours, naive)


def _parts(n_off: Mapping[str, int], n_people: int) -> Counter[str]:
    """People who came off each printed way, and all those whose way is not printed, where the whole is."""
    n_on = n_people - sum(n_off.values())
    rest = publish_share(_share_of(n_on, n_people), n_people=n_people, k=K)
    shares = {name: _share_of(n, n_people) for name, n in n_off.items()}
    shown = _printed(publish_split(shares, rest, n_people=n_people, k=K))
    left = sum(n for name, n in n_off.items() if name not in shown)
    return _counted([*(n_off[name] for name in shown), *([left] if shown else [])], list(n_off.values()))


def _rests(rng: np.random.Generator, people: Mapping[str, frozenset[str]]) -> Counter[str]:
    """Of a site, those with a reaction who wore none of the models shown: known from the shares of both, or not."""
    everybody = sorted({person for inside in people.values() for person in inside})
    reacted = {person for person in everybody if rng.random() < REACTION_FRAC}
    found: Counter[str] = Counter()
    for site in (cell for cell in people if cell.endswith("|*")):
        models = [cell for cell in people if cell.startswith(site[:-1]) and cell != site]
        if len(models) != 1:
            continue
        counts = [(len(people[cell] & reacted), len(people[cell])) for cell in (site, models[0])]
        found["naive, shown"] += 1
        found["naive"] += 0 < counts[0][0] - counts[1][0] < K
        figures = [publish_share(_share_of(*each), n_people=each[1], k=K) for each in counts]
        if len(_printed(dict(enumerate(figures)))) == len(figures):
            sides = [_behind_share(figure, n_people) for figure, (_, n_people) in zip(figures, counts, strict=True)]
            least, most = min(sides[0]) - max(sides[1]), max(sides[0]) - min(sides[1])
            found["ours"] += least > 0 and most < K
    return found


def _behind_share(figure: Published | Withheld, n_people: int) -> list[int]:
    """Numbers of people with it, of any number in the band, of which the same share would have been printed."""
    band = band_people(n_people)
    totals = range(band.at_least, band.below or 2 * band.at_least)
    return [
        n
        for total in (*totals[:: max(1, len(totals) // 12)], n_people)
        for n in range(total + 1)
        if publish_share(_share_of(n, total), n_people=total, k=K) == figure
    ]


def _counted(ours: Sequence[int], naive: Sequence[int]) -> Counter[str]:
    return Counter(
        {
            "shown": len(ours),
            "thin": sum(map(_is_thin, ours)),
            "shown, naive": len(naive),
            "thin, naive": sum(map(_is_thin, naive)),
        }
    )


# Overlaps


def _families(people: Mapping[str, frozenset[str]]) -> list[tuple[str, str, str]]:
    """Two cells of one margin that hold all of its cells: sites of a region, models of a site."""
    by_parent: dict[str, list[str]] = defaultdict(list)
    for cell in people:
        scope, place, model = cell.split("|")
        if "." in place:
            by_parent[f"{scope}|{place.split('.')[0]}|{model}"].append(cell)
        if model != "*":
            by_parent[f"{scope}|{place}|*"].append(cell)
    return [
        (*sorted(children), parent)  # type: ignore[misc]
        for parent, children in by_parent.items()
        if parent in people and len(children) == 2 and people[children[0]] | people[children[1]] == people[parent]
    ]


def _pinned(people: Mapping[str, frozenset[str]], family: tuple[str, str, str], *, exact: bool) -> bool:
    """Whether people(a) + people(b) - people(a or b) can only be 1 to k - 1."""
    (low_a, high_a), (low_b, high_b), (low, high) = (_ends(len(people[cell]), exact=exact) for cell in family)
    least = max(0, low_a + low_b - high)
    most = min(high_a, high_b, high_a + high_b - low)
    return least > 0 and most < K


def _ends(n_people: int, *, exact: bool) -> tuple[int, int]:
    if exact:
        return n_people, n_people
    band = band_people(n_people)
    return band.at_least, (band.below or 10**9) - 1


GOAL = Goal("H", "No share and no band gives away a number of people from 1 to k - 1.", run)
