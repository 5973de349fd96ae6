"""Ties: what the same wearers show at two or more cells, sealed as sums that lose nobody's cover."""

from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from pooling.errors import InvalidInput, TooFewPeople
from pooling.ledger.ties import PlannedTie, smallest_cut, uncovered
from pooling.sealing.masking import Masks
from pooling.sealing.records import Cell, SealedTie
from pooling.sealing.unit import Unit, UnitValue, channels_of_all
from pooling.sealing.version import SealVersion

Floats = NDArray[np.float64]


def seal_tie(
    tie: PlannedTie,
    units_at: Mapping[Cell, Sequence[Unit]],
    *,
    end_bucket: int,
    version: SealVersion,
    masks: Masks,
    k: Callable[[str], int],
    family: str = "accuracy",
) -> SealedTie:
    """Reduce a tie's linkers to Laplacian sums.

    With M_p = diag(q2) - q2 q2' / sum(q2) over the cells of linker p, a linker's own level cancels from M_p x_p: what
    is left compares cells within people, whoever chose them. That the tie was well planned is checked once more.

    Parameters
    ----------
    tie : PlannedTie
        One of `pooling.ledger.plan`.
    units_at : mapping from cell to units
        Everybody in the slot's blocks.
    end_bucket, version, k, family
        As for seal_slot.
    masks : Masks
        Masking noise of the family.

    Raises
    ------
    TooFewPeople
        Fewer than k people straddle some split of the cells, or some combination with the cells' sums could leave fewer
        than k people.
    InvalidInput
        The cells do not share one scope or have no block, a linker has a single cell, or two share an account.
    """
    cells = tuple(sorted(Cell.of(cell) for cell in tie.cells))
    if len({cell.scope for cell in cells}) != 1 or not set(cells) <= set(units_at):
        raise InvalidInput("the cells of a tie lie in one scope, and each has a block of the same cut-off")
    named = set(tie.linkers)
    linkers: dict[str, dict[Cell, Unit]] = {person: {} for person in sorted(named)}
    for cell in cells:
        for unit in units_at[cell]:
            if unit.person in named:
                linkers[unit.person][cell] = unit
    _check_cover(cells, linkers, units_at, k(cells[0].scope))
    position = {cell: index for index, cell in enumerate(cells)}
    rows = [sorted((position[cell], unit) for cell, unit in own.items()) for own in linkers.values()]
    inside = [unit for own in linkers.values() for unit in own.values()]
    channels = channels_of_all(inside, family)
    name = ("tie", *(part for cell in cells for part in (cell.scope, cell.place, cell.model)))
    entries = [masks.draw_for(inside, *name, str(index)) for index in range(len(cells))]
    total = masks.draw_for(inside, *name, "squares")
    deviates = {channel: ([entry[channel] for entry in entries], total[channel]) for channel in channels}
    return SealedTie(
        end_bucket,
        version.number,
        n_people=len(linkers),
        sums={channel: _tie_sums(rows, *deviates[channel], channel, version) for channel in channels},
        family=family,
        cells=cells,
    )


def _check_cover(
    cells: Sequence[Cell],
    linkers: Mapping[str, Mapping[Cell, Unit]],
    units_at: Mapping[Cell, Sequence[Unit]],
    k: int,
) -> None:
    accounts = {unit.account for own in linkers.values() for unit in own.values()}
    if any(len(own) < 2 for own in linkers.values()) or len(accounts) < len(linkers):
        raise InvalidInput("each linker of a tie has wears at two or more of its cells, and an account of their own")
    others: dict[str, set[Cell]] = {}
    for cell in cells:
        for unit in units_at[cell]:
            if unit.account not in accounts:
                others.setdefault(unit.account, set()).add(cell)
    straddling, _ = smallest_cut(cells, [frozenset(own) for own in linkers.values()])
    if straddling < k:
        raise TooFewPeople(f"every split of a tie is straddled by {k} people; one here is by {straddling}")
    if uncovered(cells, linkers, others.values(), k) is not None:
        raise TooFewPeople(
            f"this tie and the sums of its cells could be combined so that fewer than {k} people are left"
        )


def _tie_sums(
    rows: Sequence[Sequence[tuple[int, Unit]]],
    entry_deviates: Sequence[float],
    squares_deviate: float,
    channel: str,
    version: SealVersion,
) -> tuple[int, ...]:
    """All numbers of one channel, in the order SealedTie states; each linker's part meets the grid before adding."""
    n_cells = len(entry_deviates)
    right = np.full(n_cells, 0, dtype=object)
    squares = np.full((3, n_cells, n_cells), 0, dtype=object)
    rest = np.full(4, 0, dtype=object)
    heaviest = 0.0
    for row in rows:
        index = [cell for cell, _ in row]
        values = [unit.channels[channel] for _, unit in row]
        own_right, own_squares, own_rest = _linker_parts(values)
        right[index] += _on_grid(own_right, version)
        squares[np.ix_(range(3), index, index)] += _on_grid(own_squares, version)
        rest += _on_grid(own_rest, version)
        heaviest = max(heaviest, *(value.q2 for value in values))
    constants = version.channels[channel]
    sd = constants.tie_mask_sd(heaviest)
    right += _on_grid(sd * np.array(entry_deviates), version)
    total_sd = constants.squares_mask_sd(heaviest, constants.person_cell_sd**2)
    rest[0] += version.to_grid(total_sd * squares_deviate)
    return (
        *map(int, right),
        *[version.to_grid(sd**2)] * n_cells,
        *map(int, squares.ravel()),
        *map(int, rest),
        version.to_grid(total_sd**2),
    )


def _on_grid(parts: Floats, version: SealVersion) -> NDArray[np.object_]:
    whole = np.array([version.to_grid(float(part)) for part in parts.ravel()], dtype=object)
    return whole.reshape(parts.shape)


def _linker_parts(values: Sequence[UnitValue]) -> tuple[Floats, Floats, Floats]:
    """One linker's part: right-hand side, three square matrices, four single sums."""
    weight = np.array([value.q2 for value in values])
    x = np.array([value.value for value in values])
    laplacian = np.diag(weight) - np.outer(weight, weight) / weight.sum()
    squares = np.array([laplacian, laplacian @ laplacian, laplacian * np.array([value.q1 for value in values])])
    kept = np.array([(value.share, value.assumed) for value in values])
    rest = np.concatenate([[x @ laplacian @ x, len(values) - 1], np.diag(laplacian) @ kept])
    return laplacian @ x, squares, rest
