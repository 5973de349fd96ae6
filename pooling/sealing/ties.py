"""Ties: what the same wearers show at two or more cells, sealed as sums that lose nobody's cover."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pooling.errors import InvalidInput, TooFewPeople
from pooling.sealing.records import Cell, SealedTie
from pooling.sealing.slot import rounded_ratio
from pooling.sealing.unit import Member, Unit, UnitValue, units_of
from pooling.sealing.version import CHANNELS, SealVersion

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class TieComponent:
    """Cells that may be sealed together, and the wearers who link them: one an account, so they count as people."""

    cells: tuple[Cell, ...]
    linkers: tuple[str, ...]


def tie_components(cells_of: Mapping[str, Collection[Cell]], k: int) -> tuple[TieComponent, ...]:
    """Split cells until every cut through a component is straddled by at least k people.

    A tie's right-hand side sums to zero over the cells of each linker, so a combination of its numbers loses a linker
    only if it is constant on that linker's cells. A combination that is not constant has a level set that is a cut of
    the component; whoever straddles it is carried. So no combination is carried by fewer than k people. Blocks and ties
    together could still single out the few people of a block who link nothing, so at least k people of a component's
    cells stay outside its tie; where too few do by themselves, the last linkers in order of name are held back.

    Parameters
    ----------
    cells_of : mapping from wearer to cells
        Everybody in the blocks concerned, one wearer an account. Names should be keyed, so that their order tells
        nothing.
    k : int
        Smallest number of people.

    Returns
    -------
    tuple of TieComponent
        Components of two or more cells, sorted.

    Examples
    --------
    >>> a, b, c = (Cell("everyone", place) for place in ("calf", "chest", "forearm"))
    >>> people = {f"p{i}": (a, b) for i in range(3)} | {f"q{i}": (a,) for i in range(2)} | {"r": (b, c)}
    >>> [[cell.place for cell in found.cells] for found in tie_components(people, 2)]
    [['calf', 'chest']]
    """
    present = {person: frozenset(cells) for person, cells in cells_of.items()}
    everything = frozenset().union(*present.values()) if present else frozenset()
    held: set[str] = set()
    while True:
        linking = {person: cells for person, cells in present.items() if person not in held}
        components = [_component(part, linking) for part in _uncut(everything, linking, k)]
        short = _too_few_outside(components, present, k)
        if short is None:
            return tuple(sorted(components, key=lambda component: component.cells))
        component, missing = short
        held.update(component.linkers[-missing:])


def _component(cells: frozenset[Cell], linking: Mapping[str, frozenset[Cell]]) -> TieComponent:
    linkers = sorted(person for person, own in linking.items() if len(own & cells) > 1)
    return TieComponent(tuple(sorted(cells)), tuple(linkers))


def _too_few_outside(
    components: Sequence[TieComponent], present: Mapping[str, frozenset[Cell]], k: int
) -> tuple[TieComponent, int] | None:
    for component in components:
        cells = frozenset(component.cells)
        outside = sum(1 for own in present.values() if own & cells) - len(component.linkers)
        if outside < k:
            return component, k - outside
    return None


def _uncut(cells: frozenset[Cell], linking: Mapping[str, frozenset[Cell]], k: int) -> list[frozenset[Cell]]:
    """Split at the smallest cut, again and again, while fewer than k people straddle it."""
    left, whole = [cells], []
    while left:
        part = left.pop()
        if len(part) < 2:
            continue
        straddling, side = smallest_cut(sorted(part), [own & part for own in linking.values() if len(own & part) > 1])
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


def seal_ties(
    blocks: Sequence[tuple[Any, Sequence[Member]]], *, end_bucket: int, version: SealVersion, k: int
) -> tuple[SealedTie, ...]:
    """Find and seal every tie of one slot's blocks, scope by scope.

    Of an account with several wearers, the one at most cells may link; nobody links twice in one slot.

    Parameters and errors are those of seal_tie.
    """
    wearers: dict[str, dict[str, dict[str, set[Cell]]]] = {}
    for key, members in blocks:
        cell = Cell.of(key)
        for member in members:
            own = wearers.setdefault(cell.scope, {}).setdefault(member.account, {})
            own.setdefault(member.person, set()).add(cell)
    ties = []
    for scope in sorted(wearers):
        cells_of = dict(_at_most_cells(own) for own in wearers[scope].values())
        for component in tie_components(cells_of, k):
            ties.append(seal_tie(component, blocks, end_bucket=end_bucket, version=version, k=k))
    return tuple(ties)


def _at_most_cells(own: Mapping[str, set[Cell]]) -> tuple[str, set[Cell]]:
    """Return the wearer at most cells, the first by name among equals, and the cells."""
    return min(own.items(), key=lambda item: (-len(item[1]), item[0]))


def seal_tie(
    component: TieComponent,
    blocks: Sequence[tuple[Any, Sequence[Member]]],
    *,
    end_bucket: int,
    version: SealVersion,
    k: int,
) -> SealedTie:
    """Reduce a component's linkers to Laplacian sums.

    With M_p = diag(q2) - q2 q2' / sum(q2) over the cells of linker p, a linker's own level cancels from M_p x_p: what
    is left compares cells within people, whoever chose them.

    Parameters
    ----------
    component : TieComponent
        One of tie_components.
    blocks : sequence of (cell, members)
        The slot's blocks at the component's cells; other blocks are ignored.
    end_bucket, version, k
        As for seal_slot.

    Returns
    -------
    SealedTie

    Raises
    ------
    TooFewPeople
        Fewer than k people of the blocks stay outside, or fewer than k straddle some cut.
    InvalidInput
        The cells do not share one scope, a linker has a single cell, or two linkers share an account.
    """
    if len({cell.scope for cell in component.cells}) != 1:
        raise InvalidInput("the cells of a tie lie in one scope")
    position = {cell: index for index, cell in enumerate(component.cells)}
    members: dict[Cell, list[Member]] = {cell: [] for cell in component.cells}
    for key, found in blocks:
        members.get(Cell.of(key), []).extend(found)
    linkers = _linkers(component, members, version)
    _check_cover(component, members, linkers, k)
    rows = [sorted((position[cell], unit) for cell, unit in own.items()) for _, own in sorted(linkers.items())]
    return SealedTie(
        end_bucket,
        version.number,
        n_people=len(linkers),
        sums={channel: _tie_sums(rows, len(position), channel, version) for channel in CHANNELS},
        cells=component.cells,
    )


def _linkers(
    component: TieComponent, members: Mapping[Cell, Sequence[Member]], version: SealVersion
) -> dict[str, dict[Cell, Unit]]:
    """Units of each linker by cell."""
    linkers: dict[str, dict[Cell, Unit]] = {person: {} for person in component.linkers}
    for cell, found in members.items():
        for unit in units_of([member for member in found if member.person in linkers], version):
            linkers[unit.person][cell] = unit
    accounts = {unit.account for own in linkers.values() for unit in own.values()}
    if any(len(own) < 2 for own in linkers.values()) or len(accounts) < len(linkers):
        raise InvalidInput("each linker of a tie has wears at two or more of its cells, and an account of their own")
    return linkers


def _check_cover(
    component: TieComponent,
    members: Mapping[Cell, Sequence[Member]],
    linkers: Mapping[str, Mapping[Cell, Unit]],
    k: int,
) -> None:
    outside = len({member.account for found in members.values() for member in found}) - len(linkers)
    if outside < k:
        raise TooFewPeople(f"a tie leaves {k} people of its blocks outside; this one leaves {outside}")
    straddling, _ = smallest_cut(component.cells, [frozenset(own) for own in linkers.values()])
    if straddling < k:
        raise TooFewPeople(f"every cut through a tie is straddled by {k} people; one here is by {straddling}")


def _tie_sums(
    rows: Sequence[Sequence[tuple[int, Unit]]], n_cells: int, channel: str, version: SealVersion
) -> tuple[int, ...]:
    """All numbers of one channel, in the order SealedTie states; each linker's part meets the grid before adding."""
    right = np.full(n_cells, 0, dtype=object)
    squares = np.full((3, n_cells, n_cells), 0, dtype=object)
    rest = np.full(5, 0, dtype=object)
    weights = []
    for row in rows:
        index = [cell for cell, _ in row]
        values = [unit.channels[channel] for _, unit in row]
        own_right, own_squares, own_rest = _linker_parts(values)
        right[index] += _on_grid(own_right, version)
        squares[np.ix_(range(3), index, index)] += _on_grid(own_squares, version)
        rest += _on_grid(own_rest, version)
        weights += [value.q2 for value in values]
    constants = version.channels[channel]
    total, degrees, share, noise, assumed = (int(unit) for unit in rest)
    noise = rounded_ratio(noise, assumed, constants.noise_step, version)
    step = constants.tie_step * float(np.mean(weights))
    right = np.array([_to_step(int(unit), step, version) for unit in right], dtype=object)
    rounding = [version.to_grid(step**2 / 12)] * n_cells
    total = _to_step(total, step**2 / 4, version)
    return (*map(int, right), *rounding, *map(int, squares.ravel()), total, degrees, share, noise)


def _on_grid(parts: Floats, version: SealVersion) -> NDArray[np.object_]:
    whole = np.array([version.to_grid(float(part)) for part in parts.ravel()], dtype=object)
    return whole.reshape(parts.shape)


def _to_step(units: int, step: float, version: SealVersion) -> int:
    return version.to_grid(step * round(version.from_grid(units) / step)) if step else units


def _linker_parts(values: Sequence[UnitValue]) -> tuple[Floats, Floats, Floats]:
    """One linker's part: right-hand side, three square matrices, five single sums (the last is assumed noise)."""
    weight = np.array([value.q2 for value in values])
    x = np.array([value.value for value in values])
    laplacian = np.diag(weight) - np.outer(weight, weight) / weight.sum()
    squares = np.array([laplacian, laplacian @ laplacian, laplacian * np.array([value.q1 for value in values])])
    kept = np.array([(value.share, value.noise, value.assumed) for value in values])
    rest = np.concatenate([[x @ laplacian @ x, len(values) - 1], np.diag(laplacian) @ kept])
    return laplacian @ x, squares, rest
