"""What counts in published rows tell of the numbers that stand in no row: of hidden cells, of what came since.

A row counts the wears of some sums, and the sums behind rows of all groups and editions overlap. What is asked for is
the number of wears in other sets of sums; taken together, the rows may pin it.
"""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from pooling.audit.intervals import Pinned, pinned

NOTHING_ASKED = Pinned(n_tested=0, n_narrow=0, n_pinned=0, narrowest_wears=float("inf"))


@dataclass(frozen=True, slots=True)
class Telling:
    """A published number of wears in these sums together: its ends, the same where it is exact."""

    records: frozenset[str]
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Shared:
    """Ends of the published numbers of people in two rows and in both together, where these two are all there is."""

    first: tuple[float, float]
    second: tuple[float, float]
    either: tuple[float, float]


def wears_told(
    tellings: Sequence[Telling], asked: Iterable[Collection[str]], *, k: int, only_few: bool = False
) -> Pinned:
    """How closely the tellings bound the number of wears in each set of sums asked for, by linear programs.

    A set that a telling counts by itself is no unpublished number, and is not looked at. With `only_few` a number is
    told too closely where it is known and below `k`, and not already where it is known within five: many editions tell
    the same difference of two rows again and again, each time rounded anew, and that it is of k people or more is for
    the sums' own audit to say.

    Examples
    --------
    A site and one of its two sensor models, told exactly, tell the other; told to the nearest five they do not:

    >>> site, model = frozenset({"a", "b"}), frozenset({"a"})
    >>> wears_told([Telling(site, 36, 36), Telling(model, 30, 30)], [{"b"}], k=5).passed
    False
    >>> wears_told([Telling(site, 33, 37), Telling(model, 28, 32)], [{"b"}], k=5).passed
    True
    """
    counted = {each.records for each in tellings}
    hidden = sorted({frozenset(each) for each in asked} - counted - {frozenset()}, key=sorted)
    if not hidden:
        return NOTHING_ASKED
    sets = [*(each.records for each in tellings), *hidden]
    # Sums that are in the same sets stand or fall together: one unknown number for all of them.
    patterns = {record: tuple(record in each for each in sets) for each in sets for record in each}
    unknown = sorted(set(patterns.values()))
    matrix = np.zeros((len(sets), len(unknown) + len(hidden)))
    matrix[:, : len(unknown)] = np.array(unknown).T
    of_hidden = len(unknown) + np.arange(len(hidden))
    matrix[len(tellings) + np.arange(len(hidden)), of_hidden] = -1
    nothing = [0.0] * len(hidden)
    low, high = [each.low for each in tellings], [each.high for each in tellings]
    columns = {"people" if only_few else "wears": of_hidden.tolist()}
    return pinned(matrix, [*low, *nothing], [*high, *nothing], **columns, k=k)


def people_told(shared: Sequence[Shared], *, k: int) -> Pinned:
    """How closely numbers of people tell how many are in both of two rows, by linear programs.

    >>> people_told([Shared((6, 6), (5, 5), (10, 10))], k=5).passed
    False
    >>> people_told([Shared((5, 9), (5, 9), (10, 19))], k=5).passed
    True
    """
    if not shared:
        return NOTHING_ASKED
    matrix = np.kron(np.eye(len(shared)), np.array([[1, 0, 1], [0, 1, 1], [1, 1, 1]]))
    ends = np.array([ends for each in shared for ends in (each.first, each.second, each.either)])
    in_both = [3 * number + 2 for number in range(len(shared))]
    return pinned(matrix, ends[:, 0], ends[:, 1], people=in_both, k=k)
