"""Sealed records added up: cells, their counts, and for one channel the Gaussian data that the model explains."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil

import numpy as np
from numpy.typing import NDArray

from pooling.errors import TooFewPeople
from pooling.hierarchy.noise import noise_factors, seen_factors
from pooling.hierarchy.rules import FAMILY_OF, YES_NO
from pooling.hierarchy.ties import TieData, masked_freedom, tie_data
from pooling.sealing import Cell, SealedRecords, SealVersion
from pooling.sealing.records import BLOCK_SUMS, SealedBlock, SealedBundle, SealedOverlap

Floats = NDArray[np.float64]
Where = tuple[str, str | None]
"""Place and sensor model: a cell of the model, whatever scope its records have."""


def where(cell: Cell) -> Where:
    """Leave the scope out: records of a group and of everyone meet in one cell of the model."""
    return cell.place, cell.sensor_model


def region_of(place: str) -> str:
    """Return the region a place lies in; a region lies in itself. Leaves are named region.leaf."""
    return place.partition(".")[0]


@dataclass(frozen=True)
class Counts:
    """What stands behind each cell, in the order of ``cells``.

    n_accounts and n_wearers count once per block; shared (cells x cells) counts pairs of units of one wearer.
    """

    cells: tuple[Where, ...]
    n_accounts: tuple[int, ...]
    n_wearers: tuple[int, ...]
    n_wears: tuple[int, ...]
    n_pairs: tuple[int, ...]
    shared: NDArray[np.int64]

    def people_among(self, members: Sequence[int]) -> int:
        """Return a lower bound of the number of different people at some cells: exact while nobody is in two blocks."""
        wearers, accounts = (sum(counts[i] for i in members) for counts in (self.n_wearers, self.n_accounts))
        inside = self.shared[np.ix_(members, members)]
        pairs = int(np.triu(inside).sum())
        return ceil(accounts / wearers * _distinct(wearers, pairs) - 1e-9)

    @property
    def n_people(self) -> tuple[int, ...]:
        """People per cell."""
        return tuple(self.people_among((index,)) for index in range(len(self.cells)))

    @property
    def people_share(self) -> Floats:
        """Share of people per cell: the weights of every average over cells."""
        return self.share_among(range(len(self.cells)))

    def share_among(self, members: Sequence[int]) -> Floats:
        """Share of people of each of some cells."""
        n_people = self.n_people
        people = np.array([n_people[index] for index in members], dtype=np.float64)
        return people / people.sum()

    def members_by_place(self) -> dict[str, tuple[int, ...]]:
        """Positions of the cells of each place: what its row over sensor models is averaged from."""
        members: dict[str, tuple[int, ...]] = {}
        for index, (place, _) in enumerate(self.cells):
            members[place] = (*members.get(place, ()), index)
        return members


@dataclass(frozen=True)
class SquaresTerm:
    """A sum of squares whose expectation is linear in the variances: treated as scaled chi-square.

    expected holds the factors of person, person-by-cell and wear variance and the constant.
    """

    name: str
    value: float
    expected: Floats
    freedom: float


@dataclass(frozen=True)
class ChannelPool:
    """One channel's data: y ~ N(mean * level, sum of variance components times their matrices, plus fixed).

    The first C rows are cell means, the rest tie contrasts. ``to_rows`` (D x C) takes effects of cells to rows.
    ``effects`` maps a block of effects to its C x C covariance pattern. ``scale`` is what values were divided by.
    """

    counts: Counts
    y: Floats
    level: Floats
    to_rows: Floats
    errors: Mapping[str, Floats]
    fixed: Floats
    effects: Mapping[str, Floats]
    designs: Mapping[str, Floats]
    squares: tuple[SquaresTerm, ...]
    components: tuple[tuple[int, ...], ...]
    scale: float

    @property
    def n_cells(self) -> int:
        """Number of cells."""
        return len(self.counts.cells)


@dataclass(frozen=True)
class _Totals:
    """Per cell, sums of one channel in plain numbers: BLOCK_SUMS as columns, plus what wearers share."""

    columns: Mapping[str, Floats]
    overlap: Floats
    n_units: Floats

    @property
    def person_pattern(self) -> Floats:
        """C x C: sum over wearers of their total weight in one cell times that in another."""
        return np.diag(self.columns["weight_sq"]) + self.overlap + np.diag(np.diag(self.overlap))

    @property
    def n_shared(self) -> float:
        """Pairs of units of one wearer, as far as units weigh alike."""
        present = self.n_units > 0
        density = self.n_units[present] / self.columns["weight"][present]
        shared = self.overlap[np.ix_(present, present)] * np.outer(density, density)
        return float(np.triu(shared).sum())


def cells_of(records: SealedRecords) -> tuple[Where, ...]:
    """Cells that have a block, sorted.

    Raises
    ------
    TooFewPeople
        There is no block at all.
    """
    if not records.blocks:
        raise TooFewPeople("there is nothing to fit: no block has been sealed")
    return tuple(sorted({where(block.cell) for block in records.blocks}, key=lambda cell: (cell[0], cell[1] or "")))


def _position(cells: Sequence[Where]) -> dict[Where, int]:
    return {cell: index for index, cell in enumerate(cells)}


def _shared_pairs(overlaps: Sequence[SealedOverlap], position: Mapping[Where, int]) -> NDArray[np.int64]:
    """Pairs of units of one wearer, per pair of cells."""
    pairs = np.zeros((len(position), len(position)), dtype=np.int64)
    for overlap in overlaps:
        a, b = position.get(where(overlap.cell)), position.get(where(overlap.other))
        if a is None or b is None:
            continue
        pairs[a, b] += overlap.n_people
        if a != b:
            pairs[b, a] += overlap.n_people
    return pairs


def _distinct(n_units: float, n_pairs_shared: float) -> float:
    """Lower bound of the number of wearers behind units: (sum m)^2 / sum m^2, by Cauchy and Schwarz."""
    return n_units * n_units / (n_units + 2 * n_pairs_shared) if n_units else 0.0


def count(records: SealedRecords) -> Counts:
    """Count people, wears and pairs per cell.

    Raises
    ------
    TooFewPeople
        There is no block at all.
    """
    cells = cells_of(records)
    position = _position(cells)
    table = np.zeros((len(cells), 4), dtype=np.int64)
    for block in records.blocks:
        table[position[where(block.cell)]] += (block.n_people, block.n_wearers, block.n_wears, block.n_pairs)
    accounts, wearers, wears, pairs = (tuple(column) for column in table.T.tolist())
    return Counts(cells, accounts, wearers, wears, pairs, _shared_pairs(records.overlaps, position))


def holding(records: SealedRecords, channel: str) -> SealedRecords:
    """Keep the records of the channel's family that hold it: not all sensors are rated to last to day 14."""
    kept = (record for record in records.records if record.family == FAMILY_OF[channel] and channel in record.sums)
    return SealedRecords.of(kept).merged()


def channel_pool(records: SealedRecords, channel: str, versions: Mapping[int, SealVersion]) -> ChannelPool:
    """Add up one channel of all records.

    Parameters
    ----------
    records : SealedRecords
        Blocks, overlaps, bundles and ties, of any number of scopes and slots.
    channel : str
        One of FAMILY_OF.
    versions : mapping
        Seal versions by number.

    Raises
    ------
    TooFewPeople
        No block holds the channel.
    """
    records = holding(records, channel)
    counts = count(records)
    position = _position(counts.cells)
    numbers = sorted({block.seal_version for block in records.blocks})
    by_version = {number: _totals(records, channel, versions[number], position) for number in numbers}
    weight = _sum(total.columns["weight"] for total in by_version.values())
    first = _sum(
        total.columns["first"] + versions[number].channels[channel].reference * total.columns["weight"]
        for number, total in by_version.items()
    )
    means = first / weight
    factors = dict.fromkeys(numbers, 1.0)
    between = [bundle for bundle in records.bundles if bundle.kind == "between"]
    if channel in YES_NO:
        n_units = _sum(total.n_units for total in by_version.values())
        factors = noise_factors(means, n_units, {number: versions[number].channels[channel] for number in numbers})
    else:
        factors |= seen_factors(between, channel)
    by_version = {number: _renoised(total, factors[number]) for number, total in by_version.items()}
    tie = tie_data(records.ties, channel, versions, position, where, noise_factors=factors)
    scale = max(float(counts.people_share @ means), 1e-3) if channel == "direct" else 1.0
    squares = _between_squares(between, channel, versions, factors, by_version)
    squares += _within_squares(records, channel, versions, factors)
    squares += [SquaresTerm("tie", tie.squares, tie.expected, tie.freedom)] if tie.freedom > 0 else []
    errors, fixed = _error_patterns(by_version.values(), weight, tie)
    designs = _designs(counts.cells)
    return ChannelPool(
        counts=counts,
        y=np.concatenate([means, tie.contrasts]) / scale,
        level=np.concatenate([np.ones(len(means)), np.zeros(len(tie.contrasts))]),
        to_rows=np.vstack([np.eye(len(means)), tie.to_rows]),
        errors=errors,
        fixed=fixed / scale**2,
        effects={name: design @ design.T for name, design in designs.items()},
        designs=designs,
        squares=tuple(_scaled(term, scale) for term in squares),
        components=tie.components,
        scale=scale,
    )


def _sum(parts: Iterable[Floats]) -> Floats:
    return np.sum(list(parts), axis=0)


def _scaled(term: SquaresTerm, scale: float) -> SquaresTerm:
    expected = term.expected.copy()
    expected[3] /= scale**2
    return SquaresTerm(term.name, term.value / scale**2, expected, term.freedom)


def _totals(records: SealedRecords, channel: str, version: SealVersion, position: Mapping[Where, int]) -> _Totals:
    n_cells = len(position)
    units = [[0] * len(BLOCK_SUMS) for _ in range(n_cells)]
    n_units = np.zeros(n_cells)
    blocks: list[SealedBlock] = [block for block in records.blocks if block.seal_version == version.number]
    for block in blocks:
        index = position[where(block.cell)]
        units[index] = [a + b for a, b in zip(units[index], block.sums[channel], strict=True)]
        n_units[index] += block.n_wearers
    table = np.array([[version.from_grid(unit) for unit in row] for row in units])

    overlap = np.zeros((n_cells, n_cells))
    overlaps = [pair for pair in records.overlaps if pair.seal_version == version.number]
    for pair in overlaps:
        a, b = position.get(where(pair.cell)), position.get(where(pair.other))
        if a is None or b is None:
            continue
        shared = version.from_grid(pair.sums[channel][0])
        overlap[a, b] += shared
        if a != b:
            overlap[b, a] += shared
    columns = {name: table[:, index] for index, name in enumerate(BLOCK_SUMS)}
    return _Totals(columns, overlap, n_units)


def _renoised(total: _Totals, factor: float) -> _Totals:
    """The same sums with the sampling variances multiplied by a factor."""
    return replace(total, columns={**total.columns, "weight_sq_noise": total.columns["weight_sq_noise"] * factor})


def _between_squares(
    bundles: Sequence[SealedBundle],
    channel: str,
    versions: Mapping[int, SealVersion],
    noise_factors: Mapping[int, float],
    totals: Mapping[int, _Totals],
) -> list[SquaresTerm]:
    """Squares of units about their block's mean, one term a version."""
    terms = []
    for number in sorted({bundle.seal_version for bundle in bundles}):
        version = versions[number]
        sums = [bundle.sums[channel] for bundle in bundles if bundle.seal_version == number]
        squares, raw, person, wear, noise, mask, *_ = (
            version.from_grid(sum(column)) for column in zip(*sums, strict=True)
        )
        freedom = raw
        if number in totals and raw > 0:
            # Wearers in two blocks make the blocks' squares depend on each other: fewer degrees of freedom.
            freedom = raw**2 / (raw + totals[number].n_shared)
        freedom = masked_freedom(freedom, mask, version.channels[channel].person_variance)
        expected = np.array([person, person, wear, noise * noise_factors.get(number, 1.0)])
        terms.append(SquaresTerm(f"between, version {number}", max(squares, 0.0), expected, freedom))
    return terms


def _within_squares(
    records: SealedRecords, channel: str, versions: Mapping[int, SealVersion], noise_factors: Mapping[int, float]
) -> list[SquaresTerm]:
    """Squares between wears of one wearer at one cell, one term a version."""
    terms = []
    bundles = [bundle for bundle in records.bundles if bundle.kind == "within"]
    for number in sorted({bundle.seal_version for bundle in bundles}):
        sums = [bundle.sums[channel] for bundle in bundles if bundle.seal_version == number]
        squares, raw, wear, noise, mask = (
            versions[number].from_grid(sum(column)) for column in zip(*sums, strict=True)
        )
        expected = np.array([0.0, 0.0, wear, noise * noise_factors.get(number, 1.0)])
        freedom = masked_freedom(raw, mask, 1.0)
        terms.append(SquaresTerm(f"within, version {number}", max(squares, 0.0), expected, freedom))
    return terms


def _error_patterns(totals: Iterable[_Totals], weight: Floats, tie: TieData) -> tuple[dict[str, Floats], Floats]:
    """Covariance patterns of cell means and tie contrasts per variance component, and the known part."""
    totals = list(totals)
    n_rows = len(weight) + len(tie.contrasts)
    person = _sum(total.person_pattern for total in totals) / np.outer(weight, weight)
    shared = np.diag(np.diag(person))
    share = np.diag(_sum(total.columns["weight_sq_share"] for total in totals) / weight**2)
    noise = np.diag(_sum(total.columns["weight_sq_noise"] + total.columns["mask"] for total in totals) / weight**2)
    cross = tie.cross / weight[:, None]
    squared = tie.squared_laplacian

    def rows(cells: Floats, factor: float) -> Floats:
        full = np.zeros((n_rows, n_rows))
        n_cells = len(weight)
        full[:n_cells, :n_cells] = cells
        full[:n_cells, n_cells:] = factor * cross
        full[n_cells:, :n_cells] = factor * cross.T
        full[n_cells:, n_cells:] = factor * squared
        return full

    fixed = rows(noise, tie.noise)
    fixed[len(weight) :, len(weight) :] += tie.mask
    errors = {"person": rows(person, 0.0), "person_cell": rows(shared, 1.0), "wear": rows(share, tie.share)}
    return {name: _nonnegative(pattern, floor=-1e-9) for name, pattern in errors.items()}, _nonnegative(
        fixed, floor=1e-12
    )


def _nonnegative(pattern: Floats, *, floor: float) -> Floats:
    """Lift eigenvalues to the floor (a share of the largest); patterns are above it unless records ended unevenly."""
    values, vectors = np.linalg.eigh(pattern)
    lowest = floor * values[-1]
    if values[0] >= lowest:
        return pattern
    return (vectors * np.maximum(values, max(lowest, 0.0))) @ vectors.T


def _designs(cells: Sequence[Where]) -> dict[str, Floats]:
    """Blocks of exchangeable effects over the cells: only those that can be told apart."""
    places, models = [place for place, _ in cells], [model or "" for _, model in cells]
    regions = [region_of(place) for place in places]
    designs = {"site": _indicator(places)}
    if len(set(models)) > 1:
        designs["model"] = _indicator(models)
        if len(set(places)) < len(cells):
            designs["site_model"] = np.eye(len(cells))
    if any(
        place == region and regions.count(region) > places.count(region)
        for place, region in zip(places, regions, strict=True)
    ):
        designs["region"] = _indicator(regions)
    return designs


def _indicator(labels: Sequence[str]) -> Floats:
    levels = sorted(set(labels))
    return np.array([[float(label == level) for level in levels] for label in labels])
