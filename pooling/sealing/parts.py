"""Parts of blocks as sums: by phase of the wear, by reference range, by why the finger was pricked."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from math import fsum
from types import MappingProxyType
from typing import Any

from pooling.crossing import CROSSED, PARTITIONS, Crossed
from pooling.errors import InvalidInput, TooFewPeople
from pooling.sealing.masking import Masks
from pooling.sealing.record import Cell, Record, read_common
from pooling.sealing.unit import Member, Unit
from pooling.sealing.version import MASK_SDS, SealVersion

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
    up. How many people have pairs in a part, or pairs that count there, is told nowhere.
    """

    scope: str = field(kw_only=True)
    place: str = field(kw_only=True)

    @property
    def key(self) -> tuple[Any, ...]:
        """Scope, place, end, version and which parts there are."""
        return (self.family, self.scope, self.place, self.end_bucket, self.seal_version, tuple(self.sums))

    def __add__(self, other: "SealedParts") -> "SealedParts":
        return SealedParts(self.end_bucket, self.seal_version, **self._plus(other), scope=self.scope, place=self.place)

    def to_payload(self) -> dict[str, Any]:
        """Plain mapping of strings and integers."""
        return self._common("parts") | {"scope": self.scope, "place": self.place, "sensor_model": None}

    @classmethod
    def from_payload(cls, payload: Mapping[str, Any]) -> "SealedParts":
        """Inverse of to_payload."""
        return cls(**read_common(payload), scope=payload["scope"], place=payload["place"])


def seal_parts(
    blocks: Sequence[tuple[Cell, Sequence[Member], Sequence[Unit]]],
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
    blocks : sequence of (cell, members, units)
        All wears of each block, and the same gathered by wearer.
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
    accounts = {member.account for _, members, _ in blocks for member in members}
    if len(accounts) < k:
        raise TooFewPeople(f"parts need {k} accounts and have {len(accounts)}")
    weights = _wear_weights([(members, units) for _, members, units in blocks])
    bundle = tuple(part for cell, _, _ in blocks for part in (cell.scope, cell.place, cell.model))
    of_blocks = _masks_of_blocks(blocks, bundle, version, masks)
    names = tuple(PARTITIONS)
    sums: dict[str, tuple[int, ...]] = {}
    for name in (names[place_of] for place_of in sorted(partitions)):
        inside = {part: found for part in PARTITIONS[name] if _has_number(found := _inside(weights, part))}
        for channel in _VALUE:
            if channel not in _COUNT_OF or _marks_stand_by_numbers(weights, name):
                exact = {part: _part_sums(found, channel, version) for part, found in inside.items()}
                masked = _masked(exact, channel, of_blocks[channel], (name, *bundle), version, masks)
                sums |= {f"{name}.{part}.{channel}": numbers for part, numbers in masked.items()}
    return SealedParts(end_bucket, version.number, len(accounts), dict(sorted(sums.items())), scope=scope, place=place)


def _masks_of_blocks(
    blocks: Sequence[tuple[Cell, Sequence[Member], Sequence[Unit]]],
    bundle: tuple[str, ...],
    version: SealVersion,
    masks: Masks,
) -> dict[str, float]:
    """Per channel the masking noise of the blocks together; of what blocks do not hold, noise of the bundle's own."""
    found = dict.fromkeys(_VALUE, 0.0)
    for cell, _, units in blocks:
        deviates = masks.draw("block", cell.scope, cell.place, cell.model)
        own = masks.draw("parts", *bundle) if cell == blocks[0][0] else {}
        for channel in _VALUE:
            of = _WEIGHTS_OF.get(channel, channel)
            sd = version.channels[of].sum_mask_sd(max(unit.channels[of].q1 for unit in units))
            found[channel] += sd * (own.get(of, 0.0) if channel in _COUNT_OF else deviates[of])
    return found


@dataclass(frozen=True, slots=True, repr=False)
class _Weighted:
    """One wear, and the weight of one of its pairs in each channel."""

    member: Member
    crossed: Mapping[int, Crossed]
    weight: Mapping[str, float]


def _wear_weights(blocks: Sequence[tuple[Sequence[Member], Sequence[Unit]]]) -> list[_Weighted]:
    found = []
    for members, units in blocks:
        unit_of = {unit.person: unit for unit in units}
        place_in_unit: dict[str, int] = {}
        for member in members:
            unit, index = unit_of[member.person], place_in_unit.get(member.person, 0)
            place_in_unit[member.person] = index + 1
            n_pairs = member.summary.strata["all"].n_pairs
            if sum(own.n_pairs for own in member.summary.crossed.values()) != n_pairs:
                raise InvalidInput("a wear whose crossed table does not hold all its pairs cannot be summed by parts")
            weight = {channel: value.q1 * value.shares[index] / n_pairs for channel, value in unit.channels.items()}
            found.append(_Weighted(member, member.summary.crossed, weight))
    return found


def _marks_stand_by_numbers(wears: Iterable[_Weighted], name: str) -> bool:
    """Whether every part that holds a pair with a mark holds one with a number, so that its straddle was planned.

    Parts of marks alone are of anybody, and the other parts, less those of another partition, would tell them.
    """
    own = [(CROSSED[index], crossed) for wear in wears for index, crossed in wear.crossed.items()]
    shown, numbered = (
        {part for crossing, crossed in own for part in crossing if part in PARTITIONS[name] and has(crossed)}
        for has in (lambda crossed: crossed.n_shown, lambda crossed: crossed.n_pairs)
    )
    return shown == numbered


Inside = list[tuple[Member, Mapping[str, float], Crossed]]
_Exact = tuple[int, int, float, float]
"""Sum, weight, and of the wearer with the most: weight in the part and weight in all."""


def _has_number(inside: "Inside") -> bool:
    return any(own.n_pairs for *_, own in inside)


def _inside(wears: Iterable[_Weighted], part: str) -> Inside:
    """What each wear has in a part, where it has any pair there."""
    found = []
    for wear in wears:
        own = sum((crossed for index, crossed in wear.crossed.items() if part in CROSSED[index]), Crossed())
        if own.n_shown:
            found.append((wear.member, wear.weight, own))
    return found


def _part_sums(inside: Inside, channel: str, version: SealVersion) -> _Exact:
    """One channel of one part, without noise."""
    of = _WEIGHTS_OF.get(channel, channel)
    reference = 0.0 if channel in _COUNT_OF else version.channels[of].reference
    by_person: dict[str, list[tuple[float, float, float]]] = {}
    for member, weights, own in inside:
        n = weights[of] * getattr(own, _COUNT_OF.get(channel, "n_pairs"))
        value = weights[of] * getattr(own, _VALUE[channel]) - reference * n
        by_person.setdefault(member.person, []).append((value, n, weights[of] * member.summary.strata["all"].n_pairs))
    rows = [tuple(map(fsum, zip(*by_person[person], strict=True))) for person in sorted(by_person)]
    first, weight = (sum(version.to_grid(row[index]) for row in rows) for index in (0, 1))
    return first, weight, max(row[1] for row in rows), max(row[2] for row in rows)


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
