"""Ties: what the same wearers show at two or more cells, sealed as sums that lose nobody's cover."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pooling.errors import InvalidInput, TooFewPeople
from pooling.ledger.ties import PlannedTie, smallest_cut, uncovered
from pooling.sealing.grid import Floats, Ints, on_grid
from pooling.sealing.masking import Masks
from pooling.sealing.records import Cell, SealedTie
from pooling.sealing.unit import Units, UnitValues
from pooling.sealing.version import SealVersion


def seal_tie(
    tie: PlannedTie,
    blocks: Mapping[Cell, slice],
    units: Units,
    *,
    end_bucket: int,
    version: SealVersion,
    masks: Masks,
    k: Callable[[str], int],
) -> SealedTie:
    """Reduce a tie's linkers to Laplacian sums.

    With M_p = diag(q2) - q2 q2' / sum(q2) over the cells of linker p, a linker's own level cancels from M_p x_p: what
    is left compares cells within people, whoever chose them. That the tie was well planned is checked once more.

    Parameters
    ----------
    tie : PlannedTie
        One of `pooling.ledger.plan`.
    blocks : mapping from cell to slice
        The slot's blocks, and where the units of each stand.
    units : Units
        Everybody in them.
    end_bucket, version, k
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
    if len({cell.scope for cell in cells}) != 1 or not set(cells) <= blocks.keys():
        raise InvalidInput("the cells of a tie lie in one scope, and each has a block of the same cut-off")
    inside = [blocks[cell] for cell in cells]
    linkers: dict[str, dict[int, int]] = {person: {} for person in sorted(tie.linkers)}
    for position, own in enumerate(inside):
        for unit in range(own.start, own.stop):
            if units.people[unit] in linkers:
                linkers[units.people[unit]][position] = unit
    _check_cover(linkers, [units.accounts[own] for own in inside], units.accounts, k(cells[0].scope))
    linking = np.array(sorted(unit for own in linkers.values() for unit in own.values()))
    lives = units.lives_of(linking)
    name = ("tie", *(part for cell in cells for part in (cell.scope, cell.place, cell.model)))
    entries = [masks.draw_for(lives, *name, str(index)) for index in range(len(cells))]
    total = masks.draw_for(lives, *name, "squares")
    channels = units.rows_held_by(linking)
    exact = _exact_sums(linkers.values(), len(cells), [row for _, row in channels], units, version)
    heaviest = units.values.q2[:, linking].max(axis=1).tolist()
    return SealedTie(
        end_bucket,
        version.number,
        n_people=len(linkers),
        sums={
            channel: _masked(
                own, heaviest[row], ([entry[channel] for entry in entries], total[channel]), channel, version
            )
            for (channel, row), own in zip(channels, exact, strict=True)
        },
        family=units.family,
        cells=cells,
    )


def _check_cover(
    linkers: Mapping[str, Mapping[int, int]],
    accounts_at: Sequence[Sequence[str]],
    account_of: Sequence[str],
    k: int,
) -> None:
    accounts = {account_of[unit] for own in linkers.values() for unit in own.values()}
    if any(len(own) < 2 for own in linkers.values()) or len(accounts) < len(linkers):
        raise InvalidInput("each linker of a tie has wears at two or more of its cells, and an account of their own")
    others: dict[str, set[int]] = {}
    for position, own in enumerate(accounts_at):
        for account in own:
            if account not in accounts:
                others.setdefault(account, set()).add(position)
    cells = range(len(accounts_at))
    straddling, _ = smallest_cut(cells, [frozenset(own) for own in linkers.values()])
    if straddling < k:
        raise TooFewPeople(f"every split of a tie is straddled by {k} people; one here is by {straddling}")
    if uncovered(cells, linkers, others.values(), k) is not None:
        raise TooFewPeople(
            f"this tie and the sums of its cells could be combined so that fewer than {k} people are left"
        )


_Exact = tuple[NDArray[Any], NDArray[Any], NDArray[Any]]
"""Right-hand side; Laplacian, squared Laplacians and covariance pattern; the four single sums. Without noise."""


def _exact_sums(
    linkers: Iterable[Mapping[int, int]], n_cells: int, rows: Sequence[int], units: Units, version: SealVersion
) -> list[_Exact]:
    """Whole-number sums per channel: each linker's part meets the grid before adding. Linkers of as many cells at once.

    Parameters
    ----------
    linkers : of each the units by the position of their cell
    n_cells : int
    rows : of the channels
    """
    n = len(rows)
    right, every = np.zeros((n, n_cells), dtype=object), np.arange(n)[:, None, None]
    squares, rest = np.zeros((3, n, n_cells, n_cells), dtype=object), np.zeros((n, 4), dtype=object)
    alike: dict[int, list[list[tuple[int, int]]]] = {}
    for linker in linkers:
        alike.setdefault(len(linker), []).append(list(linker.items()))
    for own in alike.values():
        position, unit = np.moveaxis(np.array(own), -1, 0)
        own_right, own_squares, own_rest = _linker_parts(units.values, np.array(rows), unit)
        np.add.at(right, (every, position), on_grid(own_right, version.grid_bits))
        at = (every[..., None], position[:, :, None], position[:, None, :])
        for total, own_square in zip(squares, own_squares, strict=True):
            np.add.at(total, at, on_grid(own_square, version.grid_bits))
        rest += on_grid(own_rest, version.grid_bits).sum(axis=1)
    return [(right[row], squares[:, row], rest[row]) for row in range(n)]


def _masked(
    exact: _Exact, heaviest: float, deviates: tuple[Sequence[float], float], channel: str, version: SealVersion
) -> tuple[int, ...]:
    """All numbers of one channel, in the order SealedTie states."""
    constants, (right, squares, (first, *rest)) = version.channels[channel], exact
    sd = constants.tie_mask_sd(heaviest)
    total_sd = constants.squares_mask_sd(heaviest, constants.person_cell_sd**2)
    return (
        *(int(own) + version.to_grid(sd * deviate) for own, deviate in zip(right, deviates[0], strict=True)),
        *[version.to_grid(sd**2)] * len(right),
        *map(int, squares.ravel()),
        int(first) + version.to_grid(total_sd * deviates[1]),
        *map(int, rest),
        version.to_grid(total_sd**2),
    )


def _linker_parts(values: UnitValues, rows: Ints, unit: Ints) -> tuple[Floats, Floats, Floats]:
    """Parts of linkers: right-hand side, three square matrices, four single sums; by channel and linker.

    Parameters
    ----------
    values : UnitValues
    rows : ndarray of int, shape (n_channels,)
    unit : ndarray of int, shape (n_linkers, n_cells)
        Of each linker the units, in the order of cells.
    """
    at = np.ix_(rows, unit.ravel())
    q1, q2, x, share, assumed = (
        own[at].reshape(len(rows), *unit.shape)
        for own in (values.q1, values.q2, values.value, values.share, values.assumed)
    )
    column = q2[..., :, None]
    laplacian = np.eye(unit.shape[1]) * column - column * q2[..., None, :] / q2.sum(axis=-1)[..., None, None]
    squares = np.stack([laplacian, laplacian @ laplacian, laplacian * q1[..., None, :]])
    right = (laplacian @ x[..., None])[..., 0]
    whole = (x[..., None, :] @ laplacian @ x[..., None])[..., 0, 0]
    diagonal = np.diagonal(laplacian, axis1=-2, axis2=-1)
    kept = (diagonal[..., None, :] @ np.stack([share, assumed], axis=-1))[..., 0, :]
    rest = np.stack([whole, np.full(whole.shape, unit.shape[1] - 1.0), kept[..., 0], kept[..., 1]], axis=-1)
    return right, squares, rest
