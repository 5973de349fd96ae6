"""Parts of blocks as sums: by phase of the wear, by reference range, by why the finger was pricked."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import fsum
from operator import attrgetter
from types import MappingProxyType
from typing import Any

import numpy as np

from pooling.crossing import CROSSED, PARTITIONS, Crossed
from pooling.errors import InvalidInput, TooFewPeople
from pooling.sealing.grid import Floats, Ints, exact_sums, grid_sums
from pooling.sealing.masking import Masks
from pooling.sealing.record import Cell, Record, read_cell, read_common
from pooling.sealing.unit import Bools, Member, Units
from pooling.sealing.version import CHANNELS, MASK_SDS, SealVersion

PART_SUMS = (
    "first",  # s - reference w, with s the weighted sum over pairs in the part and w their weight, and masking noise
    "weight",  # w, and masking noise
    "mask",  # variance of the masking noise of `first`
    "weight_mask",  # variance of the masking noise of `weight`
)
_VALUE = {"location": "y", "direct": "d", "rate15": "k15", "rate20": "k20", "shown_low": "shown_low"}
_WEIGHTS_OF = {"shown_low": "rate20"}
_COUNT_OF = {"shown_low": "n_shown"}
SPLIT_SDS: Mapping[str, float] = MappingProxyType(
    {"day1": 0.15, "days2_7": 0.2, "day8_on": 0.2}
    | {"reference_low": 0.08, "reference_mid": 0.2, "reference_high": 0.2}
    | {"scheduled": 0.3, "doubt": 0.2, "other": 0.3}
)
"""Standard deviation between wearers, about, of the share of their pairs that lies in a part (common practice)."""


@dataclass(frozen=True)
class SealedParts(Record):
    """Sums over the parts of whole blocks of one cut-off.

    sums are by ``partition.part.channel`` and hold PART_SUMS. place is empty where blocks of several places are added
    up, and model in all but the sums by lot (`pooling.sealing.lots`). How many people have pairs in a part, or pairs
    that count there, is told nowhere.
    """

    scope: str = field(kw_only=True)
    place: str = field(kw_only=True)
    model: str = field(default="", kw_only=True)

    @property
    def key(self) -> tuple[Any, ...]:
        """Where it counts, end, version and which parts there are."""
        where = (self.family, self.scope, self.place, self.model)
        return (*where, self.end_bucket, self.seal_version, tuple(self.sums))

    def __add__(self, other: "SealedParts") -> "SealedParts":
        return replace(self, **self._plus(other))

    def to_payload(self) -> dict[str, Any]:
        """Plain mapping of strings and integers."""
        return self._common("parts") | {"scope": self.scope, "place": self.place, "sensor_model": self.model or None}

    @classmethod
    def from_payload(cls, payload: Mapping[str, Any]) -> "SealedParts":
        """Inverse of to_payload."""
        cell = read_cell(payload)
        return cls(**read_common(payload), scope=cell.scope, place=cell.place, model=cell.model)


def seal_parts(
    blocks: Sequence[tuple[Cell, slice]],
    units: Units,
    members: Sequence[Member],
    partitions: Iterable[int],
    *,
    scope: str,
    place: str,
    end_bucket: int,
    version: SealVersion,
    masks: Masks,
    k: int,
) -> SealedParts:
    """Add up the wears of planned blocks part by part.

    Each pair has the weight that its wear has in the sum of its block, so that the parts of a partition add up to the
    blocks: what `pooling.ledger.plan_parts` proves rests on that. Their masking noise adds up to the blocks' own, so
    that the whole of a partition tells nothing that the blocks do not.

    Parameters
    ----------
    blocks : sequence of (cell, slice)
        Each block of the bundle, and where its units stand.
    units, members
        All of the slot, gathered by wearer and as they came.
    partitions : iterable of int
        Places in PARTITIONS of those that are safe.
    scope, place : str
    end_bucket, version, k
        As for seal_slot.
    masks : Masks
        Masking noise of the family.

    Raises
    ------
    TooFewPeople
        Fewer than k accounts take part.
    InvalidInput
        A wear was summarised without its crossed table.
    """
    accounts = {account for _, inside in blocks for account in units.accounts[inside]}
    if len(accounts) < k:
        raise TooFewPeople(f"parts need {k} accounts and have {len(accounts)}")
    wears = Wears.of([inside for _, inside in blocks], units, members)
    bundle = tuple(part for cell, _ in blocks for part in (cell.scope, cell.place, cell.model))
    of_blocks = _masks_of_blocks(blocks, units, bundle, version, masks)
    names = tuple(PARTITIONS)
    sums: dict[str, tuple[int, ...]] = {}
    for name in (names[place_of] for place_of in sorted(partitions)):
        inside = {part: found for part in PARTITIONS[name] if (found := wears.inside(part))["n_pairs"].any()}
        sums_of = {part: _part_sums(wears, found, version) for part, found in inside.items()}
        for channel in _VALUE:
            if channel not in _COUNT_OF or wears.marks_stand_by_numbers(name):
                exact = {part: found[channel] for part, found in sums_of.items()}
                masked = _masked(exact, channel, of_blocks[channel], (name, *bundle), version, masks)
                sums |= {f"{name}.{part}.{channel}": numbers for part, numbers in masked.items()}
    return SealedParts(end_bucket, version.number, len(accounts), dict(sorted(sums.items())), scope=scope, place=place)


def _masks_of_blocks(
    blocks: Sequence[tuple[Cell, slice]],
    units: Units,
    bundle: tuple[str, ...],
    version: SealVersion,
    masks: Masks,
) -> dict[str, float]:
    """Per channel the masking noise of the blocks together; of what blocks do not hold, noise of the bundle's own."""
    found = dict.fromkeys(_VALUE, 0.0)
    for cell, inside in blocks:
        deviates = masks.draw("block", cell.scope, cell.place, cell.model)
        own = masks.draw("parts", *bundle) if cell == blocks[0][0] else {}
        for channel in _VALUE:
            of = _WEIGHTS_OF.get(channel, channel)
            sd = version.channels[of].sum_mask_sd(units.values.q1[CHANNELS.index(of), inside].max().item())
            found[channel] += sd * (own.get(of, 0.0) if channel in _COUNT_OF else deviates[of])
    return found


_NUMBERS = ("n_pairs", "y", "d", "k15", "k20", "n_shown", "shown_low")
_read = attrgetter(*_NUMBERS)


@dataclass(frozen=True, slots=True, repr=False)
class Wears:
    """The wears of a bundle, those of one wearer side by side."""

    first_of_person: Ints
    n_pairs: Ints
    weight: Floats
    """Of one pair, by channel of CHANNELS and wear."""
    crossed: Floats
    """By number of _NUMBERS, cell of CROSSED, and wear."""
    by_lot: Bools

    @classmethod
    def of(cls, blocks: Sequence[slice], units: Units, members: Sequence[Member]) -> "Wears":
        """Lay out the wears of blocks.

        Raises
        ------
        InvalidInput
            A wear was summarised without its crossed table.
        """
        chosen = sorted((unit for own in blocks for unit in range(own.start, own.stop)), key=units.people.__getitem__)
        people = [units.people[unit] for unit in chosen]
        new = [index == 0 or people[index - 1] != own for index, own in enumerate(people)]
        n_wears = units.n_wears[chosen]
        wears = units.wears_of(np.array(chosen))
        n_pairs, values = units.wear_pairs[wears], units.values
        tables = [members[index].summary.crossed for index in units.order[wears].tolist()]
        found = _laid_out(tables)
        if (found[0].sum(axis=0) != n_pairs).any():
            raise InvalidInput("a wear whose crossed table does not hold all its pairs cannot be summed by parts")
        weight = values.q1[:, np.repeat(chosen, n_wears)] * values.shares[:, wears] / n_pairs
        by_lot = np.array([members[index].by_lot for index in units.order[wears].tolist()])
        return cls((np.cumsum(n_wears) - n_wears)[new], n_pairs, weight, found, by_lot)

    def whole(self) -> dict[str, Floats]:
        """What each wear has in all parts."""
        return dict(zip(_NUMBERS, self.crossed.sum(axis=1), strict=True))

    def inside(self, part: str) -> dict[str, Floats]:
        """What each wear has in a part: the numbers of its crossed cells there, added up."""
        cells = [index for index, crossing in enumerate(CROSSED) if part in crossing]
        found = np.zeros((len(_NUMBERS), self.n_pairs.size))
        for index in cells:
            found += self.crossed[:, index]
        return dict(zip(_NUMBERS, found, strict=True))

    def marks_stand_by_numbers(self, name: str) -> bool:
        """Whether every part that holds a pair with a mark holds one with a number, so that its straddle was planned.

        Parts of marks alone are of anybody, and the other parts, less those of another partition, would tell them.
        """
        found = [self.inside(part) for part in PARTITIONS[name]]
        return all(own["n_shown"].any() == own["n_pairs"].any() for own in found)


def _laid_out(tables: Sequence[Mapping[int, Crossed]]) -> Floats:
    found = np.zeros((len(_NUMBERS), len(CROSSED), len(tables)))
    rows = [_read(crossed) for table in tables for crossed in table.values()]
    if rows:
        cell = [index for table in tables for index in table]
        found[:, cell, np.repeat(np.arange(len(tables)), [len(table) for table in tables])] = np.array(rows).T
    return found


_Exact = tuple[int, int, float, float]
"""Sum, weight, and of the wearer with the most: weight in the part and weight in all."""


def _part_sums(wears: Wears, inside: Mapping[str, Floats], version: SealVersion) -> dict[str, _Exact]:
    """The channels of one part, without noise."""
    rows = []
    for channel in _VALUE:
        of = _WEIGHTS_OF.get(channel, channel)
        reference = 0.0 if channel in _COUNT_OF else version.channels[of].reference
        weight = wears.weight[CHANNELS.index(of)]
        n = weight * inside[_COUNT_OF.get(channel, "n_pairs")]
        value = weight * inside[_VALUE[channel]] - reference * n
        rows.append([value, n, weight * wears.n_pairs])
    of_people = exact_sums(np.where(inside["n_shown"] > 0, np.array(rows), 0.0), wears.first_of_person)
    return {channel: _of_people(own, version) for channel, own in zip(_VALUE, of_people, strict=True)}


def _of_people(own: Floats, version: SealVersion) -> _Exact:
    (first,), (weight,) = grid_sums(own[:2], np.array([0]), version.grid_bits)
    return first, weight, own[1].max().item(), own[2].max().item()


def _masked(
    exact: Mapping[str, _Exact],
    channel: str,
    of_blocks: float,
    name: tuple[str, ...],
    version: SealVersion,
    masks: Masks,
) -> dict[str, tuple[int, ...]]:
    """PART_SUMS of a partition, with noise that adds up: that of values to that of the blocks, that of weights to 0.

    Noise is for the wearer with the most weight in the part: with the mean weight, one who alone has many pairs there
    would hide nowhere. That of weights is for the wearer with the most weight in all, and as wide as wearers' shares of
    such readings differ, so that it says nothing of who has any there.
    """
    of = _WEIGHTS_OF.get(channel, channel)
    constants = version.channels[of]
    sds = [constants.sum_mask_sd(heaviest) for _, _, heaviest, _ in exact.values()]
    most = max((whole for *_, whole in exact.values()), default=0.0)
    weight_sds = [constants.mask * MASK_SDS * SPLIT_SDS[part] * most for part in exact]
    own = ("shown",) if channel in _COUNT_OF else ()
    drawn = [masks.draw("part", *name, part, *own)[of] for part in exact]
    # A wearer's weights are the same in all channels but for a factor, so their noise is.
    drawn_weight = [masks.draw("part weight", *name, part)["location"] for part in exact]
    values, weights = _adding_up(sds, drawn, of_blocks), _adding_up(weight_sds, drawn_weight, 0.0)
    return {
        part: (
            first + version.to_grid(own),
            weight + version.to_grid(own_weight),
            version.to_grid(sd**2),
            version.to_grid(weight_sd**2),
        )
        for (part, (first, weight, *_)), own, own_weight, sd, weight_sd in zip(
            exact.items(), values, weights, sds, weight_sds, strict=True
        )
    }


def _adding_up(sds: Sequence[float], deviates: Sequence[float], whole: float) -> list[float]:
    """Independent noise, given its sum: what the sum lacks goes to each by its variance."""
    plain = [sd * deviate for sd, deviate in zip(sds, deviates, strict=True)]
    lacking, variance = whole - fsum(plain), fsum(sd**2 for sd in sds)
    return [own + lacking * sd**2 / variance for own, sd in zip(plain, sds, strict=True)] if variance else plain
