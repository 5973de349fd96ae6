"""Search among the people behind sums about which nothing could be proved; and a second opinion on proofs."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import comb

import numpy as np

from pooling.audit.angles import ISOLATED, basis, reach
from pooling.audit.rows import Floats, Ints, System
from pooling.audit.trackers import Carriers, sparsest

_MOST_ROWS = 2_500
_MOST_ENTRIES = 30_000_000
_MOST_SETS = 20_000
_N_SAMPLED_SETS = 2_000
_N_FURTHEST = 40
_MOST_TARGETS = 60
_MOST_ROWS_OF_AN_OPINION = 30
_MOST_COLUMNS_OF_AN_OPINION = 400


@dataclass(frozen=True, slots=True)
class Search:
    """What was looked at among people, and how few of them a combination was found to leave; None if never below k.

    `n_sets` counts sets of three or more that were looked at; `complete` says that with the ones and pairs they were
    all there are below k. `n_targets` counts directions for which a lightest combination was looked for; `fewest_found`
    is how many people the lightest of all was carried by. `too_large` says that the rows were too many to be searched.
    """

    fewest_left: int | None = None
    n_people: int = 0
    n_pairs: int = 0
    n_sets: int = 0
    n_targets: int = 0
    fewest_found: int | None = None
    complete: bool = True
    too_large: bool = False


def search(system: System, k: int, rng: np.random.Generator) -> Search:
    """Look for fewer than `k` people who carry a combination of these rows alone.

    Exact and complete for one person and for two. Sets of up to k - 1 are all tried where there are at most 20,000 of
    k - 1 people (a smaller set lies in one of these), else 2,000 drawn ones around whoever reaches furthest; and for
    up to 60 directions the lightest combination is computed, whose carriers are then tested by their angle.
    """
    if system.n_rows > _MOST_ROWS or system.n_rows * system.person.size > _MOST_ENTRIES:
        return Search(complete=False, too_large=True)
    own = np.split(basis(system.matrix), system.starts()[1:])
    reaches = np.array([reach(part) for part in own])
    if (reaches >= ISOLATED).any():
        return Search(fewest_left=1, n_people=len(own))
    # The furthest reaching first: then the partners worth a look stand next to one another.
    order = np.argsort(-reaches, kind="stable").tolist()
    own, reaches = [own[person] for person in order], reaches[order]
    found, n_pairs = two_isolated(own, reaches) if k > 2 else (False, 0)
    if found or k <= 3:
        return Search(fewest_left=2 if found else None, n_people=len(own), n_pairs=n_pairs)
    fewest, n_sets, complete = _sets(own, k, rng)
    tracked = _tracked(system, k, rng)
    left = [n for n in (fewest, tracked.fewest_left) if n]
    return Search(
        fewest_left=min(left, default=None),
        n_people=len(own),
        n_pairs=n_pairs,
        n_sets=n_sets,
        n_targets=tracked.n_targets,
        fewest_found=tracked.fewest_found,
        complete=complete,
    )


def second_opinion(system: System, k: int, rng: np.random.Generator) -> Search:
    """The lightest combination for a target among proved rows, or, if these are many, a few that hang together."""
    rows = _drawn_rows(system, rng)
    part = System(system.matrix[rows], system.person).without_empty_columns()
    return _tracked(part, k, rng, most=1, n_rounds=1)


def _drawn_rows(system: System, rng: np.random.Generator) -> Ints:
    """A row, rows that have columns with it, and so on, as long as they are few."""
    by_column = system.matrix.tocsc()
    chosen: Ints = np.array([rng.integers(system.n_rows)])
    while chosen.size < _MOST_ROWS_OF_AN_OPINION:
        touched = np.unique(system.matrix[chosen].indices)
        near = np.setdiff1d(by_column[:, touched].indices, chosen)
        if not near.size or touched.size > _MOST_COLUMNS_OF_AN_OPINION:
            break
        chosen = np.sort(np.append(chosen, rng.choice(near)))
    return chosen


def _tracked(
    system: System, k: int, rng: np.random.Generator, *, most: int = _MOST_TARGETS, n_rounds: int = 3
) -> Search:
    """Carriers of lightest combinations; those below k count only if their angle says so too."""
    dense = system.matrix.toarray()
    carriers = Carriers.of(np.split(dense, system.starts()[1:], axis=1))
    directions = carriers.directions()
    if len(directions) > most:
        directions = directions[np.sort(rng.choice(len(directions), most, replace=False))]
    found, left = [], []
    for direction in directions:
        tracker = sparsest(carriers, direction, n_rounds=n_rounds)
        people = carriers.people_in(tracker.held())
        if people:
            found.append(len(people))
        if 0 < len(people) < k:
            rows = np.isin(system.person, np.unique(system.person)[people])
            if reach(basis(system.matrix)[rows]) >= ISOLATED:
                left.append(len(people))
    return Search(fewest_left=min(left, default=None), n_targets=len(directions), fewest_found=min(found, default=None))


def _sets(own: Sequence[Floats], k: int, rng: np.random.Generator) -> tuple[int | None, int, bool]:
    """How few people of three to k - 1 are left by some combination, the number of sets looked at, and if these are
    all.

    The largest eigenvalue is at most the sum of the traces, so a set whose reaches sum to less than 1 needs no look.
    """
    n_people, size = len(own), min(k - 1, len(own))
    complete = comb(n_people, size) <= _MOST_SETS
    sets = combinations(range(n_people), size) if complete else _drawn(n_people, size, rng)
    trace = np.array([(part**2).sum() for part in own])
    fewest, n_sets = None, 0
    for chosen in sets:
        n_sets += 1
        places = list(chosen)
        if trace[places].sum() >= ISOLATED and reach(np.vstack([own[place] for place in places])) >= ISOLATED:
            n_left = _least(own, places)
            fewest = n_left if fewest is None else min(fewest, n_left)
    return fewest, n_sets, complete


def _least(own: Sequence[Floats], places: Sequence[int]) -> int:
    """How many people of a set that is left are needed for it."""
    needed = list(places)
    for place in places:
        rest = [other for other in needed if other != place]
        if rest and reach(np.vstack([own[other] for other in rest])) >= ISOLATED:
            needed = rest
    return len(needed)


def _drawn(n_people: int, size: int, rng: np.random.Generator) -> list[tuple[int, ...]]:
    """Sets of people, who come furthest reaching first, half of them from the furthest reaching alone."""
    far = max(size, min(n_people, _N_FURTHEST))
    return [
        tuple(rng.choice(far if number % 2 else n_people, size, replace=False).tolist())
        for number in range(_N_SAMPLED_SETS)
    ]


def two_isolated(own: Sequence[Floats], reaches: Floats) -> tuple[bool, int]:
    """Look for two people whose coordinates share a direction with the row space; also how many pairs were looked at.

    People come furthest reaching first. With a and b the squared cosines of the two and c the Frobenius norm of
    Q[S, :] Q[T, :]', that of both together is at most the larger eigenvalue of [[a, c], [c, b]], so c^2 >= (1 - a)(1 -
    b) is needed for 1.
    """
    n_pairs = 0
    basis_rows = np.vstack(own)
    start = np.cumsum([0, *(len(part) for part in own)])
    partners = np.searchsorted(-reaches, reaches - ISOLATED, side="right")
    for first, end in enumerate(partners.tolist()):
        if end <= first + 1:
            break
        n_pairs += end - first - 1
        crossing = ((own[first] @ basis_rows[start[first + 1] : start[end]].T) ** 2).sum(axis=0)
        crossing = np.add.reduceat(crossing, start[first + 1 : end] - start[first + 1])
        enough = crossing >= (ISOLATED - reaches[first]) * (ISOLATED - reaches[first + 1 : end])
        for second in np.flatnonzero(enough).tolist():
            if reach(np.vstack([own[first], own[first + 1 + second]])) >= ISOLATED:
                return True, n_pairs
    return False, n_pairs
