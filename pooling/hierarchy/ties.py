"""Sealed ties added up: contrasts between cells that are free of who chose which."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from pooling.sealing import Cell, SealedTie, SealVersion

Floats = NDArray[np.float64]
_RANK_TOLERANCE = 1e-8


@dataclass(frozen=True)
class TieData:
    """Ties of one channel in the fit's own cells (C of them), reduced to R independent contrasts.

    contrasts (R), to_rows (R x C), squared_laplacian and mask (R x R), cross (C x R, to be divided by the cells'
    weights), share and noise (what one wear's variance and the sampling variance are multiplied by), and the squares
    left over with their expectation and degrees of freedom. components are the sets of cells that ties connect.
    """

    contrasts: Floats
    to_rows: Floats
    squared_laplacian: Floats
    cross: Floats
    mask: Floats
    share: float
    noise: float
    squares: float
    expected: Floats
    freedom: float
    components: tuple[tuple[int, ...], ...]


def masked_freedom(freedom: float, mask: float, unit: float) -> float:
    """Degrees of freedom of a sum of squares that has masking noise of some variance beside its own.

    A sum of squares with that many has the same ratio of variance to squared mean. ``unit`` is the mean of one.

    >>> masked_freedom(20.0, 0.0, 1.0), masked_freedom(20.0, 40.0, 1.0)
    (20.0, 10.0)
    """
    return freedom / (1 + mask / (2 * freedom * unit**2)) if freedom > 0 else 0.0


def no_ties(n_cells: int) -> TieData:
    """Return the data of a pool without ties."""
    none = np.zeros((0, 0))
    return TieData(
        np.zeros(0), np.zeros((0, n_cells)), none, np.zeros((n_cells, 0)), none, 0.0, 0.0, 0.0, np.zeros(4), 0.0, ()
    )


def tie_data(
    ties: Sequence[SealedTie],
    channel: str,
    versions: Mapping[int, SealVersion],
    position: Mapping[tuple[str, str | None], int],
    where: Callable[[Cell], tuple[str, str | None]],
    noise_factors: Mapping[int, float] = MappingProxyType({}),
) -> TieData:
    """Add up the ties whose cells are all in the pool and turn them into independent contrasts.

    noise_factors multiply the sampling variances that each seal version assumed.

    The right-hand side r has covariance proportional to nothing simple, but lies in the range of the summed Laplacian;
    its coordinates along the Laplacian's eigenvectors are the contrasts.
    """
    inside = [tie for tie in ties if all(where(cell) in position for cell in tie.cells)]
    n_cells = len(position)
    if not inside:
        return no_ties(n_cells)
    sums = _TieSums(n_cells)
    for tie in inside:
        index = [position[where(cell)] for cell in tie.cells]
        sums.add(tie, channel, versions[tie.seal_version], index, noise_factors.get(tie.seal_version, 1.0))
    values, vectors = np.linalg.eigh(sums.laplacian)
    kept = values > _RANK_TOLERANCE * values[-1]
    basis = vectors[:, kept]
    inverse = (basis / values[kept]) @ basis.T
    trace = np.trace(sums.laplacian)
    share, noise = sums.share / trace, sums.noise / trace
    left_over = trace - np.trace(inverse @ sums.squared)
    mask = np.diag(sums.mask)
    freedom, unit = max(float(sums.degrees - kept.sum()), 0.0), sums.unit / sums.degrees
    # What masking noise of the right-hand side takes from the squares in the mean is put back.
    taken = inverse @ mask
    spread = 2 * np.trace(taken @ taken) + 4 * unit * np.trace(taken @ inverse @ sums.squared)
    return TieData(
        contrasts=basis.T @ sums.right,
        to_rows=basis.T @ sums.laplacian,
        squared_laplacian=basis.T @ sums.squared @ basis,
        cross=sums.cross.T @ basis,
        mask=basis.T @ mask @ basis,
        share=share,
        noise=noise,
        squares=max(float(sums.total - sums.right @ inverse @ sums.right + np.trace(taken)), 0.0),
        expected=np.array([0.0, left_over, share * left_over, noise * left_over]),
        freedom=masked_freedom(freedom, float(sums.total_mask + spread), float(unit)),
        components=_connected(sums.laplacian),
    )


class _TieSums:
    """Running sums over ties, in the fit's own cells."""

    def __init__(self, n_cells: int) -> None:
        self.right = np.zeros(n_cells)
        self.mask = np.zeros(n_cells)
        self.laplacian, self.squared, self.cross = (np.zeros((n_cells, n_cells)) for _ in range(3))
        self.total = self.degrees = self.share = self.noise = self.total_mask = self.unit = 0.0

    def add(
        self, tie: SealedTie, channel: str, version: SealVersion, index: Sequence[int], noise_factor: float
    ) -> None:
        """Add one record; index says which of the fit's cells its cells are."""
        size = len(index)
        numbers = np.array([version.from_grid(unit) for unit in tie.sums[channel]])
        vectors, rest = numbers[: 2 * size], numbers[2 * size :]
        square = np.ix_(index, index)
        self.right[index] += vectors[:size]
        self.mask[index] += vectors[size:]
        for target, part in zip(
            (self.laplacian, self.squared, self.cross), np.split(rest[: 3 * size**2], 3), strict=True
        ):
            target[square] += part.reshape(size, size)
        total, degrees, share, noise, total_mask = rest[3 * size**2 :]
        self.total += total
        self.degrees += degrees
        self.share += share
        self.noise += noise_factor * noise
        self.total_mask += total_mask
        self.unit += degrees * version.channels[channel].person_cell_sd ** 2


def _connected(laplacian: Floats) -> tuple[tuple[int, ...], ...]:
    """Sets of two or more cells that the Laplacian connects."""
    linked = np.abs(laplacian) > _RANK_TOLERANCE * np.abs(laplacian).max()
    left, found = set(range(len(laplacian))), []
    while left:
        start = min(left)
        reached, edge = {start}, [start]
        while edge:
            new = {int(j) for j in np.flatnonzero(linked[edge.pop()])} - reached
            reached |= new
            edge.extend(new)
        left -= reached
        if len(reached) > 1:
            found.append(tuple(sorted(reached)))
    return tuple(found)
