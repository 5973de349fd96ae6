"""What a single block would carry for too few, or tell too well of its last wearer, added up over a scope and slot."""

from collections.abc import Callable, Iterator, Sequence
from math import fsum

from pooling.sealing.masking import Masks
from pooling.sealing.record import Cell, Sums
from pooling.sealing.records import SealedBundle
from pooling.sealing.unit import Unit, UnitValue, channels_of_all
from pooling.sealing.version import FAMILIES, SealVersion

Blocks = Sequence[Sequence[Unit]]


def seal_bundles(
    cells: Sequence[Cell],
    blocks: Blocks,
    *,
    k: Callable[[str], int],
    end_bucket: int,
    version: SealVersion,
    masks: Masks,
    family: str,
) -> list[tuple[SealedBundle, tuple[str, ...]]]:
    """At most three bundles a scope, each with the wearers in it: squares between and within them, and the shape.

    Parameters
    ----------
    cells, blocks
        Cells of a slot's blocks, and the units of each.
    k, end_bucket, version, family
        As for seal_slot.
    masks : Masks
        Masking noise of the family.
    """
    bundles = []
    for scope in sorted({cell.scope for cell in cells}):
        inside = [units for cell, units in zip(cells, blocks, strict=True) if cell.scope == scope]
        for kind, units, sums in _kinds(scope, inside, version, masks, family):
            accounts = {unit.account for unit in units}
            if len(accounts) >= k(scope):
                bundle = SealedBundle(
                    end_bucket, version.number, len(accounts), sums(), family=family, scope=scope, kind=kind
                )
                bundles.append((bundle, tuple(sorted({unit.person for unit in units}))))
    return bundles


def _kinds(
    scope: str, blocks: Blocks, version: SealVersion, masks: Masks, family: str
) -> Iterator[tuple[str, list[Unit], Callable[[], Sums]]]:
    everybody = [unit for units in blocks for unit in units]
    again = [unit for unit in everybody if unit.n_wears > 1]
    yield "between", everybody, lambda: _between_sums(scope, blocks, version, masks, family)
    yield "within", again, lambda: _within_sums(scope, again, version, masks, family)
    if family == "accuracy":
        yield "kurtosis", everybody, lambda: _kurtosis_sums(scope, everybody, version, masks)


def _between_sums(scope: str, blocks: Blocks, version: SealVersion, masks: Masks, family: str) -> Sums:
    """BETWEEN_SUMS per channel, over the blocks that hold it."""
    everybody = [unit for units in blocks for unit in units]
    squares, seen = masks.draw_for(everybody, "between", scope), masks.draw("seen", scope)
    held = [(units, channels_of_all(units, family)) for units in blocks]
    found = {
        channel: [[unit.channels[channel] for unit in units] for units, channels in held if channel in channels]
        for channel in FAMILIES[family]
    }
    return {
        channel: _between(own, (squares[channel], seen[channel]), channel, version)
        for channel, own in found.items()
        if own
    }


def _between(
    blocks: Sequence[Sequence[UnitValue]],
    deviates: tuple[float, float],
    channel: str,
    version: SealVersion,
) -> tuple[int, ...]:
    constants, units = version.channels[channel], [unit for block in blocks for unit in block]
    squares_sd = constants.squares_mask_sd(max(unit.q1 for unit in units), constants.person_variance)
    seen_sd = constants.seen_mask_sd(max(unit.q1 * unit.assumed for unit in units))
    seen, assumed = (
        sum(version.to_grid(unit.q1 * noise) for unit, noise in own)
        for own in ([(unit, unit.noise) for unit in units], [(unit, unit.assumed) for unit in units])
    )
    return (
        sum(version.to_grid(_about_mean(block)) for block in blocks) + version.to_grid(squares_sd * deviates[0]),
        version.to_grid(len(units) - len(blocks)),
        *(
            sum(version.to_grid(_kept(block, factor)) for block in blocks)
            for factor in (lambda _: 1.0, lambda unit: unit.share, lambda unit: unit.assumed)
        ),
        version.to_grid(squares_sd**2),
        seen + version.to_grid(seen_sd * deviates[1]),
        assumed,
    )


def _about_mean(block: Sequence[UnitValue]) -> float:
    mean = fsum(unit.q1 * unit.value for unit in block) / fsum(unit.q1 for unit in block)
    return fsum(unit.q1 * (unit.value - mean) ** 2 for unit in block)


def _kept(block: Sequence[UnitValue], factor: Callable[[UnitValue], float]) -> float:
    """What squares about the block's mean hold of a variance that units have so many times."""
    weight = fsum(unit.q1 for unit in block)
    return fsum(unit.q1 * (1 - unit.q1 / weight) * factor(unit) for unit in block)


def _within_sums(scope: str, units: Sequence[Unit], version: SealVersion, masks: Masks, family: str) -> Sums:
    """WITHIN_SUMS per channel. Weights make one degree of freedom about 1."""
    deviates = masks.draw_for(units, "within", scope)

    def channel_sums(channel: str) -> tuple[int, ...]:
        values = [unit.channels[channel] for unit in units]
        # Another answer of one wear of two moves the squares by half of its weight.
        sd = version.channels[channel].squares_mask_sd(max(value.wear_factor for value in values) / 2, 1.0)
        return (
            sum(version.to_grid(value.squares) for value in values) + version.to_grid(sd * deviates[channel]),
            version.to_grid(sum(unit.n_wears - 1 for unit in units)),
            sum(version.to_grid(value.wear_factor) for value in values),
            sum(version.to_grid(value.assumed_factor) for value in values),
            version.to_grid(sd**2),
        )

    return {channel: channel_sums(channel) for channel in channels_of_all(units, family)}


def _kurtosis_sums(scope: str, units: Sequence[Unit], version: SealVersion, masks: Masks) -> Sums:
    """KURTOSIS_SUMS, the cumulants with masking noise."""
    wears = [wear for unit in units for wear in unit.kurtosis]
    n_pairs = sum(n for n, _ in wears)
    sd = version.shape_mask_sd(max(unit.n_pairs for unit in units))
    cumulant = sum(version.to_grid(n * value) for n, value in wears)
    cumulant += version.to_grid(sd * masks.draw("kurtosis", scope)["location"])
    ratio = sum(version.to_grid(n / (n - 1)) for n, _ in wears)
    return {"location": (cumulant, version.to_grid(n_pairs), ratio, version.to_grid(len(wears)))}
