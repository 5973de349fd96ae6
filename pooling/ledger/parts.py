"""Which blocks of one cut-off may also be summed part by part: by phase, by range, by why the finger was pricked."""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

Crossing = tuple[str, ...]
"""Where some of a wear's pairs are: one part of each partition, in the partitions' order."""


@dataclass(frozen=True, slots=True)
class PlannedParts:
    """Whole blocks whose wears are summed part by part, and the partitions in which that is safe."""

    cells: tuple[Any, ...]
    partitions: tuple[int, ...]


def plan_parts(
    blocks: Mapping[Any, Sequence[tuple[str, Collection[Crossing]]]],
    k: int,
    *,
    together: Iterable[Collection[Any]],
) -> tuple[PlannedParts, ...]:
    """Choose bundles of blocks, each block in one at most, and for each the partitions that it can be split by.

    Claim: let any real numbers multiply the sums of a bundle's parts, the sums of its blocks, and whatever keeps the
    promise of `plan_ties` with them. If the result depends on anybody, it depends on at least k people.

    Assumptions: a part adds up a wear's pairs with the weights that the wear's block gives them, so that the parts of a
    partition add up to the blocks; all wears of the bundle take part, in the commit that seals the blocks.

    Proof. A pair in the crossing j enters with its weight in the block times (a + h(j)) plus whatever a tie adds, where
    h(j) sums the multipliers of the parts that j is in, and a and the tie are the same for all pairs of a wear. If some
    partition has parts with different multipliers, split its parts into those with the largest and the others. At least
    k people have a wear with pairs on both sides of that split and in the same parts of all other partitions: h differs
    between these pairs, so what is left of the wear is not 0. If all parts of each partition have the same multiplier,
    the parts add nothing but a multiple of the blocks' sums, and `plan_ties` speaks for those. A bundle that was formed
    later, without a wear taken back meanwhile, would tell that wear: the blocks less all the parts.

    Parameters
    ----------
    blocks : mapping from cell to wears
        Of each wear the account, and the crossings in which it has pairs.
    k : int
        Smallest number of people.
    together : iterable of collections of cells
        Bundles to try, in this order; cells that are in a bundle already are left out.

    Returns
    -------
    tuple of PlannedParts
        Partitions by their place in a crossing; as many as are safe, the first ones preferred.

    Notes
    -----
    Asking for k people with pairs in a part is not enough, nor for none or k of them: with two partitions of the same
    pairs, or two blocks in one bundle, small remainders can be worked out (the tests do).

    Examples
    --------
    >>> both = [("early", "low"), ("early", "high"), ("late", "low"), ("late", "high")]
    >>> plan_parts({"calf": [(f"a{i}", both) for i in range(5)]}, 5, together=[["calf"]])
    (PlannedParts(cells=('calf',), partitions=(0, 1)),)
    >>> plan_parts({"calf": [(f"a{i}", both[:2]) for i in range(5)]}, 5, together=[["calf"]])
    (PlannedParts(cells=('calf',), partitions=(1,)),)
    """
    planned: list[PlannedParts] = []
    taken: set[Any] = set()
    for wanted in together:
        cells = tuple(sorted(set(wanted) - taken))
        wears = [wear for cell in cells for wear in blocks[cell]]
        partitions = _safe(wears, k)
        if partitions:
            planned.append(PlannedParts(cells, partitions))
            taken.update(cells)
    return tuple(planned)


def bundles_to_try(cells: Collection[Any]) -> list[list[Any]]:
    """Within each scope all cells of one place together, then all that is left.

    >>> from pooling.ledger import CellKey
    >>> cells = [CellKey("everyone", place, model) for place, model in (("calf", "a"), ("calf", "b"), ("chest", "a"))]
    >>> [[cell.place for cell in bundle] for bundle in bundles_to_try(cells)]
    [['calf', 'calf'], ['chest'], ['calf', 'calf', 'chest']]
    """
    tried = []
    for scope in sorted({cell.scope for cell in cells}):
        inside = sorted(cell for cell in cells if cell.scope == scope)
        tried += [[cell for cell in inside if cell.place == place] for place in sorted({cell.place for cell in inside})]
        tried.append(inside)
    return tried


def _safe(wears: Sequence[tuple[str, Collection[Crossing]]], k: int) -> tuple[int, ...]:
    """The largest choice of partitions that is safe, the first ones preferred; none is no choice."""
    n_partitions = next((len(crossing) for _, crossings in wears for crossing in crossings), 0)
    for size in range(n_partitions, 0, -1):
        for chosen in combinations(range(n_partitions), size):
            narrowed = [(person, {tuple(own[i] for i in chosen) for own in crossings}) for person, crossings in wears]
            if _says_something(narrowed, size) and not any(_thin_splits(narrowed, size, k)):
                return chosen
    return ()


def _says_something(wears: Sequence[tuple[str, Collection[Crossing]]], n_partitions: int) -> bool:
    """Whether each partition has two parts or more."""
    return all(len(_parts(wears, place)) > 1 for place in range(n_partitions))


def _parts(wears: Iterable[tuple[str, Collection[Crossing]]], place: int) -> list[str]:
    return sorted({crossing[place] for _, crossings in wears for crossing in crossings})


def _thin_splits(wears: Sequence[tuple[str, Collection[Crossing]]], n_partitions: int, k: int) -> Iterator[bool]:
    """For each way to split the parts of a partition in two: whether fewer than k people straddle it."""
    for place in range(n_partitions):
        parts = _parts(wears, place)
        pairs = [(person, _within_one_crossing_of_the_others(crossings, place)) for person, crossings in wears]
        for size in range(1, len(parts) // 2 + 1):
            for side in map(set, combinations(parts, size)):
                straddling = {person for person, found in pairs if any(own & side and own - side for own in found)}
                yield len(straddling) < k


def _within_one_crossing_of_the_others(crossings: Collection[Crossing], place: int) -> list[set[str]]:
    """The parts of one partition in which a wear has pairs, apart for each choice of parts of all others."""
    found: dict[Crossing, set[str]] = {}
    for crossing in crossings:
        found.setdefault(crossing[:place] + crossing[place + 1 :], set()).add(crossing[place])
    return [own for own in found.values() if len(own) > 1]
