"""Which wearers may be compared with themselves: ties between the cells of one cut-off that nobody can be read from.

A tie adds up, cell by cell, how far each linker's value lies from the linker's own mean over the cells of the tie. It
is sealed beside the sums of the cells themselves, so three things have to hold at once: no combination of a tie's own
numbers, none of the cells' sums, and none of both together may be carried by fewer than k people.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

MOST_STEPS = 20_000
"""Where the search for an exposed set of cells takes longer, the set it has reached is taken for exposed."""


@dataclass(frozen=True, slots=True)
class PlannedTie:
    """Cells that may be sealed together, and the wearers who link them: one an account, so they count as people."""

    cells: tuple[Any, ...]
    linkers: tuple[str, ...]


def plan_ties(cells_of: Mapping[str, Collection[Any]], k: int) -> tuple[PlannedTie, ...]:
    """Plan the ties of one cut-off and scope.

    Claim: let any real numbers multiply the sums of the cells and the numbers of the planned ties, whatever weights
    above 0 they were formed with. If the result depends on anybody, it depends on at least k people.

    Proof. Write the multiplier of cell c as a_c, and that of the entry of c in a tie as m_c. A linker p with the cells
    C_p enters at each c of them with a_c u_pc + t_pc, where u_pc > 0 is the weight in the sum of the cell, and
    t_pc = w_pc (m_c - the mean of m over C_p under the weights w_p), so that the t_pc of a linker add up to 0. Whoever
    links nothing enters with a_c u_pc at each of the own cells. Let S be the cells with a_c other than 0.

    1. S is empty. If m is the same for all cells of the tie, nothing is left. Otherwise some split of the cells into
       higher and lower m is straddled by at least k linkers (every split is), and t is not 0 for any of them.
    2. S is not empty. Whoever links nothing and has a cell in S is left. So is a linker with exactly one cell c of the
       tie in S: were a_c u_pc + t_pc = 0 there, and t_pc = 0 at the other cells, the t_pc would not add up to 0.
       The search below makes sure that these are at least k people for every S.

    Ties of different components share no linker's value and no cell, those of different cut-offs no wear, so S splits
    into parts that can be looked at one by one; people left in one part are left in the whole.

    Parameters
    ----------
    cells_of : mapping from wearer to cells
        Everybody in the cells' sums, one wearer an account. Of those who could link, the last in the mapping's order
        are held back first, so the order should be keyed.
    k : int
        Smallest number of people.

    Returns
    -------
    tuple of PlannedTie
        Components of two or more cells, sorted; linkers in the order of the mapping.

    Notes
    -----
    Ties of pairs of cells with k linkers each would be safe too, and lose nine of ten pairs in a community of 45. A
    rule that asks for k linkers between a cell and any other is not safe: it lets one person be the only bridge.

    Examples
    --------
    >>> people = {f"p{i}": "ab" for i in range(3)} | {f"q{i}": "a" for i in range(2)} | {"r": "bc"}
    >>> plan_ties(people, 2)
    (PlannedTie(cells=('a', 'b'), linkers=('p0', 'p1', 'p2')),)
    """
    present = {person: frozenset(cells) for person, cells in cells_of.items()}
    held: set[str] = set()
    while True:
        linking = {person: cells for person, cells in present.items() if person not in held and len(cells) > 1}
        components = _uncut(frozenset().union(*linking.values()), linking.values(), k) if linking else []
        short = next(_held_back(components, present, held, k), None)
        if short is None:
            planned = [PlannedTie(tuple(sorted(cells)), _linkers(cells, linking)) for cells in components]
            return tuple(sorted(planned, key=lambda tie: tie.cells))
        held.update(short)


def _linkers(cells: frozenset[Any], linking: Mapping[str, frozenset[Any]]) -> tuple[str, ...]:
    return tuple(person for person, own in linking.items() if len(own & cells) > 1)


def _held_back(
    components: Sequence[frozenset[Any]], present: Mapping[str, frozenset[Any]], held: set[str], k: int
) -> Iterator[list[str]]:
    """For each component with an exposed set of cells: which linkers should not link, so that it no longer is."""
    for cells in components:
        inside = {person: own & cells for person, own in present.items() if own & cells}
        linkers = {person: own for person, own in inside.items() if len(own) > 1 and person not in held}
        exposed = uncovered(cells, linkers, [own for person, own in inside.items() if person not in linkers], k)
        if exposed is not None:
            hidden = [person for person, own in linkers.items() if len(own & exposed) > 1] or list(linkers)
            missing = k - _n_left(exposed, linkers.values(), inside, linkers)
            # Who links the fewest cells costs the least.
            hidden.sort(key=lambda person: len(linkers[person]), reverse=True)
            yield hidden[-max(missing, 1) :]


def _n_left(
    exposed: frozenset[Any],
    linking: Collection[frozenset[Any]],
    inside: Mapping[str, frozenset[Any]],
    linkers: Collection[str],
) -> int:
    once = sum(1 for own in linking if len(own & exposed) == 1)
    return once + sum(1 for person, own in inside.items() if person not in linkers and own & exposed)


def uncovered(
    cells: Collection[Any], linkers: Mapping[str, Collection[Any]], others: Collection[Collection[Any]], k: int
) -> frozenset[Any] | None:
    """Find cells of a tie whose sums, with the tie's, might be combined so that fewer than k people are left.

    Looks for a set S of cells for which fewer than k people either link nothing and have a cell in S, or link and have
    exactly one; by branching on one cell after the other, given up as soon as k people are left whatever follows.

    Parameters
    ----------
    cells : the tie's cells
    linkers : mapping from linker to the own cells, two or more of the tie's
    others : for each person of these cells who links nothing, the own cells
    k : int

    Returns
    -------
    frozenset of cells, or None if there is no such set

    Examples
    --------
    All but one wear both cells; the two totals less twice the tie leave that one.

    >>> sorted(uncovered("ab", {f"p{i}": "ab" for i in range(9)}, ["a"], 2))
    ['a', 'b']
    >>> uncovered("ab", {f"p{i}": "ab" for i in range(9)}, ["a", "b"], 2) is None
    True
    """
    order = sorted(cells)
    linking, n_linking = _patterns(linkers.values(), order)
    resting, n_resting = _patterns(others, order)
    # How many of a linker's cells are inside or undecided changes by one column with each cell that is decided.
    of_linking, of_resting = np.ascontiguousarray(linking.T), np.ascontiguousarray(resting.T)
    n_open_after = np.cumsum(of_linking[::-1], axis=0)[::-1]
    # Sets whose first cell is the first, the second, and so on: what is inside, and what is still undecided.
    cell_numbers = np.arange(len(order))
    to_look_at = [
        (
            (cell_numbers == first).astype(float),
            (cell_numbers > first).astype(float),
            of_linking[first],
            n_open_after[first] - of_linking[first],
            of_resting[first],
        )
        for first in reversed(cell_numbers)
    ]
    n_steps = 0
    while to_look_at:
        n_steps += 1
        inside, undecided, n_inside, n_open, seen = to_look_at.pop()
        once = n_linking * (n_inside == 1)
        left = n_resting @ (seen > 0) + once @ (n_open == 0)
        if left >= k:
            continue
        # The cell that most people who are left could hide behind; the first among equals.
        wanted = (of_linking @ once) * undecided
        branch = int(wanted.argmax())
        if not wanted.any() or n_steps > MOST_STEPS:
            return frozenset(cell for cell, is_in in zip(order, inside, strict=True) if is_in)
        own, undecided, within = of_linking[branch], undecided.copy(), inside.copy()
        undecided[branch], within[branch] = 0, 1
        n_open = n_open - own
        to_look_at += [
            (inside, undecided, n_inside, n_open, seen),
            (within, undecided, n_inside + own, n_open, seen + of_resting[branch]),
        ]
    return None


def _patterns(
    people: Collection[Collection[Any]], order: Sequence[Any]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Which cells people have, a row for each choice of cells, and how many people made it."""
    rows = np.array([[cell in own for cell in order] for own in people], dtype=float).reshape(len(people), len(order))
    patterns, n_people = np.unique(rows, axis=0, return_counts=True)
    return patterns, n_people.astype(float)


def _uncut(cells: frozenset[Any], linking: Collection[frozenset[Any]], k: int) -> list[frozenset[Any]]:
    """Split at the smallest cut, again and again, while fewer than k people straddle it."""
    left, whole = [cells], []
    while left:
        part = left.pop()
        if len(part) < 2:
            continue
        straddling, side = smallest_cut(sorted(part), [own & part for own in linking if len(own & part) > 1])
        if straddling >= k:
            whole.append(part)
        else:
            left += [side, part - side]
    return whole


def smallest_cut(cells: Sequence[Any], edges: Sequence[frozenset[Any]]) -> tuple[int, frozenset[Any]]:
    """Return how few edges some split of the cells cuts, and one side of such a split.

    Merges the last two cells of an order in which each next cell shares the most edges with all before it; the last
    cell alone is the smallest cut between those two (Stoer and Wagner 1997, J. ACM 44, 585-591, for graphs; Klimmek
    and Wagner 1996, TR B 96-02, FU Berlin, for edges of any size; both cited from memory, and compared with trying all
    cuts in the tests).

    Examples
    --------
    >>> smallest_cut("abc", [frozenset("ab"), frozenset("abc"), frozenset("bc"), frozenset("ab")])[0]
    2
    """
    # Rows are edges, columns groups of merged cells: does the edge reach the group?
    reaches = np.array([[cell in edge for cell in cells] for edge in edges], dtype=bool).reshape(len(edges), len(cells))
    groups = [frozenset((cell,)) for cell in cells]
    best: tuple[int, frozenset[Any]] = (len(edges) + 1, groups[0])
    while len(groups) > 1:
        order = _by_attachment(reaches)
        last, before = order[-1], order[-2]
        cut = int((reaches[:, last] & reaches[:, order[:-1]].any(axis=1)).sum())
        if cut < best[0]:
            best = (cut, groups[last])
        reaches[:, before] |= reaches[:, last]
        groups[before] |= groups[last]
        reaches = np.delete(reaches, last, axis=1)
        del groups[last]
    return best


def _by_attachment(reaches: NDArray[np.bool_]) -> list[int]:
    """Order columns so that each next one shares the most edges with all before it; the first among equals."""
    order = [0]
    touched = reaches[:, 0].copy()
    left = list(range(1, reaches.shape[1]))
    while left:
        shared = touched @ reaches[:, left].astype(np.int64)
        following = left.pop(int(shared.argmax()))
        order.append(following)
        touched |= reaches[:, following]
    return order
