"""One calendar slot's planned blocks become sealed records, in one pass, before any figure is computed."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from pooling.errors import InvalidInput, TooFewPeople
from pooling.ledger.parts import PlannedParts
from pooling.ledger.ties import PlannedTie
from pooling.sealing.parts import SealedParts, seal_parts
from pooling.sealing.record import Cell, Sums
from pooling.sealing.records import SealedBlock, SealedBundle, SealedOverlap, SealedRecords, SealedTie
from pooling.sealing.ties import rounded_ratio, seal_tie
from pooling.sealing.unit import Member, Unit, UnitValue, channels_of_all, units_of
from pooling.sealing.version import FAMILIES, STEP_PEOPLE, ChannelConstants, SealVersion, n_alike

WITHIN_STEP = STEP_PEOPLE / 4
"""Rounding step of squares within wearers, of which each wear but one adds about 1."""


@dataclass(frozen=True, slots=True)
class Place:
    """One wearer in one block: what caps, overlaps and ties need later. It holds no value and no wear.

    ``block`` is the index of the block within its slot; -1 for a place of an earlier slot.
    """

    person: str
    scope: str
    place: str
    sensor_model: str | None
    end_bucket: int
    q1: tuple[float, ...]
    q2: tuple[float, ...]
    block: int = -1

    @property
    def cell(self) -> Cell:
        """Cell of the place's block."""
        return Cell.of(self)


@dataclass(frozen=True, slots=True)
class SlotSeal:
    """Everything one slot seals. blocks stand in the order of the plan; places say who is in which of them."""

    blocks: tuple[SealedBlock, ...]
    overlaps: tuple[SealedOverlap, ...]
    bundles: tuple[SealedBundle, ...]
    ties: tuple[SealedTie, ...]
    parts: tuple[SealedParts, ...]
    places: tuple[Place, ...]
    bundle_people: tuple[tuple[str, ...], ...]
    """Per bundle the wearers in it, for the auditor."""
    tie_places: tuple[tuple[tuple[int, ...], ...], ...]
    """Per tie and linker the linker's places (positions in `places`), for the auditor."""
    part_people: tuple[tuple[str, ...], ...]
    """Per record of parts the wearers in it, for the auditor."""

    @property
    def records(self) -> SealedRecords:
        """The sums alone."""
        return SealedRecords(self.blocks, self.overlaps, self.bundles, self.ties, self.parts)


def seal_slot(
    blocks: Sequence[tuple[Any, Sequence[Member]]],
    *,
    ties: Sequence[PlannedTie] = (),
    parts: Sequence[PlannedParts] = (),
    open_places: Iterable[Place],
    end_bucket: int,
    version: SealVersion,
    k: int | Callable[[str], int],
    family: str = "accuracy",
) -> SlotSeal:
    """Reduce planned blocks, the ties between them and the parts of them that were planned, to sums of integers.

    Every sum that holds values is formed over at least k accounts; what fewer share within one block (squares between
    wears of one wearer, the shape of the readings) is summed over the scope and slot, and dropped if even there fewer
    than k accounts contribute.

    Parameters
    ----------
    blocks : sequence of (cell, members)
        cell has scope, place and sensor_model; members are all wears of the block. No cell comes twice.
    ties : sequence of PlannedTie
        Between cells of these blocks.
    parts : sequence of PlannedParts
        Bundles of these blocks, each of one scope.
    open_places : iterable of Place
        Places of the same wearers in blocks of the family that have not ended; others are ignored.
    end_bucket : int
        Boundary at which the new records end.
    version : SealVersion
        Frozen constants.
    k : int or callable
        Smallest number of accounts, or a function from scope to it.
    family : str
        Which outcomes to sum; every wear has a value there. A channel in which not all of a block have one (the share
        still on at a day beyond some sensors' life) is left out of that block.

    Returns
    -------
    SlotSeal
        The same bytes for any order of members and open places.

    Raises
    ------
    TooFewPeople
        A block has fewer than k accounts, or a tie could leave fewer than k people.
    InvalidInput
        A cell comes twice, a wear has fewer than eight pairs, a wearer is named under two accounts, or a tie is not one
        between cells of these blocks.
    """
    k_of = k if callable(k) else lambda _scope: k
    cells = [Cell.of(cell) for cell, _ in blocks]
    if len(set(cells)) < len(cells):
        raise InvalidInput("all wears that enter a cell at one cut-off make one block")
    units = [units_of(members, version, family) for _, members in blocks]
    for cell, found in zip(cells, units, strict=True):
        n_accounts = len({unit.account for unit in found})
        if n_accounts < k_of(cell.scope):
            raise TooFewPeople(f"a block needs {k_of(cell.scope)} accounts and has {n_accounts}")
    shared = {"end_bucket": end_bucket, "version": version, "family": family}
    sealed = tuple(_seal_block(cell, found, **shared) for cell, found in zip(cells, units, strict=True))
    places = tuple(
        _place(unit, cell, index, end_bucket, family)
        for index, (cell, found) in enumerate(zip(cells, units, strict=True))
        for unit in found
    )
    bundles = _seal_bundles(cells, units, k_of, **shared)
    tied = [tuple(Cell.of(cell) for cell in tie.cells) for tie in ties]
    bundled = [_seal_parts(planned, blocks, units, k_of, end_bucket, version) for planned in parts]
    seat = {(place.person, place.cell): index for index, place in enumerate(places)}
    return SlotSeal(
        blocks=sealed,
        overlaps=_seal_overlaps(places, open_places, version, family),
        bundles=tuple(bundle for bundle, _ in bundles),
        ties=tuple(seal_tie(tie, dict(zip(cells, units, strict=True)), k=k_of, **shared) for tie in ties),
        parts=tuple(record for record, _ in bundled),
        part_people=tuple(people for _, people in bundled),
        places=places,
        bundle_people=tuple(people for _, people in bundles),
        tie_places=tuple(
            tuple(tuple(seat[person, cell] for cell in own if (person, cell) in seat) for person in tie.linkers)
            for tie, own in zip(ties, tied, strict=True)
        ),
    )


def _seal_parts(
    planned: PlannedParts,
    blocks: Sequence[tuple[Any, Sequence[Member]]],
    units: Sequence[Sequence[Unit]],
    k_of: Callable[[str], int],
    end_bucket: int,
    version: SealVersion,
) -> tuple[SealedParts, tuple[str, ...]]:
    """One bundle, and the wearers in it."""
    cells = {Cell.of(cell) for cell in planned.cells}
    inside = [(members, found) for (cell, members), found in zip(blocks, units, strict=True) if Cell.of(cell) in cells]
    (scope,), places = {cell.scope for cell in cells}, {cell.place for cell in cells}
    record = seal_parts(
        inside,
        planned.partitions,
        scope=scope,
        place=places.pop() if len(places) == 1 else "",
        end_bucket=end_bucket,
        version=version,
        k=k_of(scope),
    )
    return record, tuple(sorted({unit.person for _, found in inside for unit in found}))


def _seal_block(
    cell: Cell, units: Sequence[Unit], *, end_bucket: int, version: SealVersion, family: str
) -> SealedBlock:
    return SealedBlock(
        end_bucket,
        version.number,
        n_people=len({unit.account for unit in units}),
        sums={
            channel: _block_sums([unit.channels[channel] for unit in units], channel, version)
            for channel in channels_of_all(units, family)
        },
        family=family,
        cell=cell,
        n_wearers=len(units),
        n_wears=sum(unit.n_wears for unit in units),
        n_pairs=sum(unit.n_pairs for unit in units),
    )


def _block_sums(units: Sequence[UnitValue], channel: str, version: SealVersion) -> tuple[int, ...]:
    """The ten numbers of BLOCK_SUMS."""
    constants = version.channels[channel]
    step, _ = constants.steps(n_alike([unit.q1 for unit in units]))

    def total(term: Callable[[UnitValue], float]) -> int:
        return sum(version.to_grid(term(unit)) for unit in units)

    weight = total(lambda unit: unit.q1)
    first, second = _rounded_moments(
        weight,
        total(lambda unit: unit.q1 * unit.value),
        total(lambda unit: unit.q1 * unit.value**2),
        step,
        constants.squares_step(max(unit.q1 for unit in units)),
        version,
    )
    noise, noise_sq = (_rounded_noise(units, power, constants, version) for power in (1, 2))
    rounding = step**2 / 12
    weight_value = version.from_grid(weight)
    return (
        weight,
        total(lambda unit: unit.q1**2),
        first,
        second,
        total(lambda unit: unit.q1 * unit.share),
        total(lambda unit: unit.q1**2 * unit.share),
        noise,
        noise_sq,
        version.to_grid(rounding * weight_value),
        version.to_grid(rounding * weight_value**2),
    )


def _rounded_moments(
    weight: int, first: int, second: int, step: float, squares_step: float, version: SealVersion
) -> tuple[int, int]:
    """Round the weighted mean and the sum of squares about it to their steps; put both into sums."""
    if not step:
        return first, second
    grid = 2**version.grid_bits
    total = weight / grid
    mean = step * round(first / weight / step)
    # Integers until here, so the difference of the two large terms is exact.
    about_mean = (second * weight - first * first) / (weight * grid)
    squares = squares_step * round(about_mean / squares_step)
    return version.to_grid(mean * total), version.to_grid(squares + mean * mean * total)


def _rounded_noise(units: Sequence[UnitValue], power: int, constants: ChannelConstants, version: SealVersion) -> int:
    """Sampling variances as a multiple of the assumed ones, in steps: exact, they would give away one wear's spread."""
    assumed = [unit.q1**power * unit.assumed for unit in units]
    exact = sum(version.to_grid(unit.q1**power * unit.noise) for unit in units)
    return rounded_ratio(exact, assumed, constants, version)


def _place(unit: Unit, cell: Cell, block: int, end_bucket: int, family: str) -> Place:
    values = [unit.channels.get(channel) for channel in FAMILIES[family]]
    return Place(
        person=unit.person,
        scope=cell.scope,
        place=cell.place,
        sensor_model=cell.sensor_model,
        end_bucket=end_bucket,
        q1=tuple(value.q1 if value else 0.0 for value in values),
        q2=tuple(value.q2 if value else 0.0 for value in values),
        block=block,
    )


def _seal_overlaps(
    places: Sequence[Place], open_places: Iterable[Place], version: SealVersion, family: str
) -> tuple[SealedOverlap, ...]:
    """Write pairs of units of one wearer: new with new, and new with what is still open."""
    new: dict[str, list[Place]] = {}
    for place in places:
        new.setdefault(place.person, []).append(place)
    pairs = [pair for own in new.values() for pair in combinations(own, 2)]
    pairs += [(mine, place) for place in open_places for mine in new.get(place.person, ())]

    sums: dict[tuple[Cell, Cell, int], list[int]] = {}
    counts: dict[tuple[Cell, Cell, int], int] = {}
    for a, b in pairs:
        first, second = sorted((a.cell, b.cell))
        key = (first, second, min(a.end_bucket, b.end_bucket))
        found = sums.setdefault(key, [0] * len(FAMILIES[family]))
        counts[key] = counts.get(key, 0) + 1
        for index in range(len(FAMILIES[family])):
            found[index] += version.to_grid(a.q1[index] * b.q1[index])
    return tuple(
        SealedOverlap(
            key[2],
            version.number,
            counts[key],
            {channel: (sums[key][index],) for index, channel in enumerate(FAMILIES[family])},
            family=family,
            cell=key[0],
            other=key[1],
        )
        for key in sorted(sums)
    )


def _seal_bundles(
    cells: Sequence[Cell],
    units: Sequence[Sequence[Unit]],
    k_of: Callable[[str], int],
    *,
    end_bucket: int,
    version: SealVersion,
    family: str,
) -> list[tuple[SealedBundle, tuple[str, ...]]]:
    """At most two bundles a scope: squares between wears of one wearer, and the shape of the readings."""
    bundles = []
    for scope in sorted({cell.scope for cell in cells}):
        inside = [unit for cell, found in zip(cells, units, strict=True) if cell.scope == scope for unit in found]
        kinds = [("within", [unit for unit in inside if unit.n_wears > 1], _within_sums)]
        if family == "accuracy":
            kinds.append(("kurtosis", inside, _kurtosis_sums))
        for kind, found, sums in kinds:
            accounts = {unit.account for unit in found}
            if len(accounts) >= k_of(scope):
                bundle = SealedBundle(
                    end_bucket,
                    version.number,
                    len(accounts),
                    sums(found, version, family),
                    family=family,
                    scope=scope,
                    kind=kind,
                )
                bundles.append((bundle, tuple(sorted({unit.person for unit in found}))))
    return bundles


def _within_sums(units: Sequence[Unit], version: SealVersion, family: str) -> Sums:
    """WITHIN_SUMS per channel. Weights make one degree of freedom about 1."""

    def channel_sums(channel: str) -> tuple[int, ...]:
        values = [unit.channels[channel] for unit in units]
        squares = sum(version.to_grid(value.squares) for value in values)
        constants = version.channels[channel]
        return (
            version.to_step(squares, WITHIN_STEP if constants.step else 0.0),
            version.to_grid(sum(unit.n_wears - 1 for unit in units)),
            sum(version.to_grid(value.wear_factor) for value in values),
            rounded_ratio(
                sum(version.to_grid(value.noise_factor) for value in values),
                [value.assumed_factor for value in values],
                constants,
                version,
            ),
        )

    return {channel: channel_sums(channel) for channel in channels_of_all(units, family)}


def _kurtosis_sums(units: Sequence[Unit], version: SealVersion, family: str) -> Sums:
    """KURTOSIS_SUMS; the mean cumulant is rounded to a tenth, like every sum that holds values."""
    wears = [wear for unit in units for wear in unit.kurtosis]
    n_pairs = sum(n for n, _ in wears)
    cumulant = sum(version.to_grid(n * value) for n, value in wears)
    if any(version.channels[channel].step for channel in FAMILIES[family]):
        cumulant = version.to_grid(0.1 * round(10.0 * version.from_grid(cumulant) / n_pairs) * n_pairs)
    ratio = sum(version.to_grid(n / (n - 1)) for n, _ in wears)
    return {"location": (cumulant, version.to_grid(n_pairs), ratio, version.to_grid(len(wears)))}
