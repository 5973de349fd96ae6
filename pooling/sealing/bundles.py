"""What a single block would carry for too few, or tell too well of its last wearer, added up over a scope and slot."""

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from pooling.sealing.grid import Floats, Ints, exact_sums, grid_sums, squares
from pooling.sealing.masking import Masks
from pooling.sealing.record import Cell, Sums
from pooling.sealing.records import SealedBundle
from pooling.sealing.unit import Units
from pooling.sealing.version import SealVersion


def seal_bundles(
    cells: Sequence[Cell],
    units: Units,
    *,
    k: Callable[[str], int],
    end_bucket: int,
    version: SealVersion,
    masks: Masks,
) -> list[tuple[SealedBundle, tuple[str, ...]]]:
    """At most three bundles a scope, each with the wearers in it: squares between and within them, and the shape.

    Parameters
    ----------
    cells, units
        Cells of a slot's blocks, and their units.
    k, end_bucket, version
        As for seal_slot.
    masks : Masks
        Masking noise of the family.
    """
    bundles = []
    blocks_of: dict[str, list[slice]] = {}
    for cell, block in zip(cells, units.ranges(), strict=True):
        blocks_of.setdefault(cell.scope, []).append(block)
    for scope, blocks in sorted(blocks_of.items()):
        for kind, inside, sums in _kinds(scope, blocks, units, version, masks):
            accounts = {units.accounts[unit] for unit in inside.tolist()}
            if len(accounts) >= k(scope):
                bundle = SealedBundle(
                    end_bucket, version.number, len(accounts), sums(), family=units.family, scope=scope, kind=kind
                )
                bundles.append((bundle, tuple(sorted({units.people[unit] for unit in inside.tolist()}))))
    return bundles


def _kinds(
    scope: str, blocks: Sequence[slice], units: Units, version: SealVersion, masks: Masks
) -> Iterator[tuple[str, Ints, Callable[[], Sums]]]:
    everybody = _inside(blocks)
    again = everybody[units.n_wears[everybody] > 1]
    yield "between", everybody, lambda: _between_sums(scope, blocks, everybody, units, version, masks)
    yield "within", again, lambda: _within_sums(scope, again, units, version, masks)
    if units.family == "accuracy":
        yield "kurtosis", everybody, lambda: _kurtosis_sums(scope, everybody, units, version, masks)


def _inside(blocks: Sequence[slice]) -> Ints:
    return np.concatenate([np.arange(own.start, own.stop) for own in blocks])


def _between_sums(
    scope: str, blocks: Sequence[slice], everybody: Ints, units: Units, version: SealVersion, masks: Masks
) -> Sums:
    """BETWEEN_SUMS per channel, over the blocks that hold it."""
    deviates, seen = masks.draw_for(units.lives_of(everybody), "between", scope), masks.draw("seen", scope)
    held = [dict(units.rows_held_by(own)) for own in blocks]
    found = {}
    for channel, row in units.rows():
        own = [block for block, channels in zip(blocks, held, strict=True) if channel in channels]
        if own:
            found[channel] = _between(own, row, (deviates[channel], seen[channel]), channel, units, version)
    return found


def _between(
    blocks: Sequence[slice],
    row: int,
    deviates: tuple[float, float],
    channel: str,
    units: Units,
    version: SealVersion,
) -> tuple[int, ...]:
    constants, values = version.channels[channel], units.values
    inside = _inside(blocks)
    sizes = [own.stop - own.start for own in blocks]
    starts = np.cumsum([0, *sizes[:-1]])
    q1, value, share, noise, assumed = (
        own[row, inside] for own in (values.q1, values.value, values.share, values.noise, values.assumed)
    )
    squares_sd = constants.squares_mask_sd(q1.max().item(), constants.person_variance)
    seen_sd = constants.seen_mask_sd((q1 * assumed).max().item())
    weight, first = exact_sums(np.stack([q1, q1 * value]), starts)
    away = squares(value - np.repeat(first / weight, sizes))
    # What squares about the block's mean hold of a variance that units have so many times.
    kept = q1 * (1 - q1 / np.repeat(weight, sizes))
    of_blocks = exact_sums(np.stack([q1 * away, kept, kept * share, kept * assumed]), starts)
    about_mean, person, wear, known = _totals(of_blocks, version)
    seen, of_assumed = _totals(np.stack([q1 * noise, q1 * assumed]), version)
    return (
        about_mean + version.to_grid(squares_sd * deviates[0]),
        version.to_grid(inside.size - len(blocks)),
        person,
        wear,
        known,
        version.to_grid(squares_sd**2),
        seen + version.to_grid(seen_sd * deviates[1]),
        of_assumed,
    )


def _totals(rows: Floats, version: SealVersion) -> list[int]:
    return [total for (total,) in grid_sums(rows, np.array([0]), version.grid_bits)]


def _within_sums(scope: str, again: Ints, units: Units, version: SealVersion, masks: Masks) -> Sums:
    """WITHIN_SUMS per channel. Weights make one degree of freedom about 1."""
    deviates, values = masks.draw_for(units.lives_of(again), "within", scope), units.values
    freedom = version.to_grid(int((units.n_wears[again] - 1).sum()))

    def channel_sums(channel: str, row: int) -> tuple[int, ...]:
        rows = np.stack([own[row, again] for own in (values.squares, values.wear_factor, values.assumed_factor)])
        # Another answer of one wear of two moves the squares by half of its weight.
        sd = version.channels[channel].squares_mask_sd(rows[1].max().item() / 2, 1.0)
        found, wear, assumed = _totals(rows, version)
        return found + version.to_grid(sd * deviates[channel]), freedom, wear, assumed, version.to_grid(sd**2)

    return {channel: channel_sums(channel, row) for channel, row in units.rows_held_by(again)}


def _kurtosis_sums(scope: str, everybody: Ints, units: Units, version: SealVersion, masks: Masks) -> Sums:
    """KURTOSIS_SUMS, the cumulants with masking noise."""
    wears = units.wears_of(everybody)
    n, value = units.wear_pairs[wears], units.kurtosis[wears]
    sd = version.shape_mask_sd(int(units.n_pairs[everybody].max()))
    cumulant, ratio = _totals(np.stack([n * value, n / (n - 1)]), version)
    cumulant += version.to_grid(sd * masks.draw("kurtosis", scope)["location"])
    return {"location": (cumulant, version.to_grid(int(n.sum())), ratio, version.to_grid(n.size))}
