"""Parts of blocks as sums: by phase of the wear, by reference range, by why the finger was pricked."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from math import fsum
from typing import Any

from pooling.crossing import CROSSED, PARTITIONS, Crossed
from pooling.errors import InvalidInput, TooFewPeople
from pooling.sealing.record import Record, read_common
from pooling.sealing.unit import Member, Unit
from pooling.sealing.version import SealVersion

PART_SUMS = (
    "first",  # s - reference w, with s the weighted sum over one wearer's pairs in the part and w their weight
    "weight",  # w
    "second",  # (s - reference w) squared
    "cross",  # (s - reference w) w
    "weight_sq",  # w squared
    "rounding",  # variance of `first` from rounding
)
_VALUE = {"location": "y", "direct": "d", "rate15": "k15", "rate20": "k20", "shown_low": "shown_low"}
_WEIGHTS_OF = {"shown_low": "rate20"}
_COUNT_OF = {"shown_low": "n_shown"}
COUNTED = ("rate15", "rate20", "shown_low")
"""Channels that count pairs which have or have not: of people with both kinds k are needed before a rate is told."""


@dataclass(frozen=True)
class SealedParts(Record):
    """Sums over the parts of whole blocks of one cut-off.

    sums are by ``partition.part.channel`` and hold PART_SUMS. people says for ``partition.part`` how many accounts have
    a pair there, and for counted channels, with ``+`` and ``-`` behind the name, how many have one that counts and one
    that does not. place is empty where blocks of several places are added up.
    """

    scope: str = field(kw_only=True)
    place: str = field(kw_only=True)
    people: Mapping[str, int] = field(kw_only=True)

    @property
    def key(self) -> tuple[Any, ...]:
        """Scope, place, end, version and which parts there are."""
        return (self.family, self.scope, self.place, self.end_bucket, self.seal_version, tuple(self.sums))

    def __add__(self, other: "SealedParts") -> "SealedParts":
        people = {name: self.people.get(name, 0) + other.people.get(name, 0) for name in {*self.people, *other.people}}
        return SealedParts(
            self.end_bucket,
            self.seal_version,
            **self._plus(other),
            scope=self.scope,
            place=self.place,
            people=dict(sorted(people.items())),
        )

    def to_payload(self) -> dict[str, Any]:
        """Plain mapping of strings and integers."""
        return self._common("parts") | {
            "scope": self.scope,
            "place": self.place,
            "sensor_model": None,
            "people": dict(self.people),
        }

    @classmethod
    def from_payload(cls, payload: Mapping[str, Any]) -> "SealedParts":
        """Inverse of to_payload."""
        people = {name: int(n) for name, n in sorted(payload["people"].items())}
        return cls(**read_common(payload), scope=payload["scope"], place=payload["place"], people=people)


def seal_parts(
    blocks: Sequence[tuple[Sequence[Member], Sequence[Unit]]],
    partitions: Iterable[int],
    *,
    scope: str,
    place: str,
    end_bucket: int,
    version: SealVersion,
    k: int,
) -> SealedParts:
    """Add up the wears of planned blocks part by part.

    Each pair has the weight that its wear has in the sum of its block, so that the parts of a partition add up to the
    blocks: what `pooling.ledger.plan_parts` proves rests on that.

    Parameters
    ----------
    blocks : sequence of (members, units)
        All wears of each block, and the same gathered by wearer.
    partitions : iterable of int
        Places in PARTITIONS of those that are safe.
    scope, place : str
    end_bucket, version, k
        As for seal_slot.

    Raises
    ------
    TooFewPeople
        Fewer than k accounts take part.
    InvalidInput
        A wear was summarised without its crossed table.
    """
    accounts = {member.account for members, _ in blocks for member in members}
    if len(accounts) < k:
        raise TooFewPeople(f"parts need {k} accounts and have {len(accounts)}")
    weights = _wear_weights(blocks)
    names = tuple(PARTITIONS)
    sums: dict[str, tuple[int, ...]] = {}
    people: dict[str, int] = {}
    for name in (names[place_of] for place_of in sorted(partitions)):
        channels = [channel for channel in _VALUE if channel not in _COUNT_OF or _marks_stand_by_numbers(weights, name)]
        for part in PARTITIONS[name]:
            inside = _inside(weights, part)
            if any(crossed.n_pairs for _, _, crossed in inside):
                people |= _people(inside, f"{name}.{part}")
                for channel in channels:
                    sums[f"{name}.{part}.{channel}"] = _part_sums(inside, channel, version)
    return SealedParts(
        end_bucket, version.number, len(accounts), sums, scope=scope, place=place, people=dict(sorted(people.items()))
    )


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


def _inside(wears: Iterable[_Weighted], part: str) -> Inside:
    """What each wear has in a part, where it has any pair there."""
    found = []
    for wear in wears:
        own = sum((crossed for index, crossed in wear.crossed.items() if part in CROSSED[index]), Crossed())
        if own.n_shown:
            found.append((wear.member, wear.weight, own))
    return found


def _people(inside: Inside, name: str) -> dict[str, int]:
    found = {name: len({member.account for member, _, own in inside if own.n_pairs})}
    for channel in COUNTED:
        for sign, has in (("+", _n_counting), ("-", _n_not_counting)):
            found[f"{name}.{channel}{sign}"] = len({member.account for member, _, own in inside if has(own, channel)})
    return found


def _n_counting(own: Crossed, channel: str) -> int:
    return int(getattr(own, _VALUE[channel]))


def _n_not_counting(own: Crossed, channel: str) -> int:
    return int(getattr(own, _COUNT_OF.get(channel, "n_pairs"))) - _n_counting(own, channel)


def _part_sums(inside: Inside, channel: str, version: SealVersion) -> tuple[int, ...]:
    """PART_SUMS of one channel, each rounded so that the last of its wearers stays hidden as in a block.

    Steps are for the wearer with the most weight: with the mean weight, one who alone has many pairs in the part would
    hide nowhere. `cross` is a sum of values as much as `first` is, and so has its step.
    """
    constants = version.channels[_WEIGHTS_OF.get(channel, channel)]
    reference = 0.0 if channel == "shown_low" else constants.reference
    by_person: dict[str, list[tuple[float, float]]] = {}
    for member, weights, own in inside:
        weight = weights[_WEIGHTS_OF.get(channel, channel)]
        n = weight * getattr(own, _COUNT_OF.get(channel, "n_pairs"))
        by_person.setdefault(member.person, []).append((weight * getattr(own, _VALUE[channel]) - reference * n, n))
    rows = [tuple(map(fsum, zip(*by_person[person], strict=True))) for person in sorted(by_person)]
    heaviest = max(weight for _, weight in rows)
    step = constants.part_step * heaviest
    first, second, cross = (
        version.to_step(sum(map(version.to_grid, terms)), unit)
        for terms, unit in (
            ([value for value, _ in rows], step),
            ([value * value for value, _ in rows], constants.squares_step(heaviest**2)),
            ([value * weight for value, weight in rows], step * heaviest),
        )
    )
    weights_only = ([weight for _, weight in rows], [weight * weight for _, weight in rows])
    weight, weight_sq = (sum(map(version.to_grid, terms)) for terms in weights_only)
    return (first, weight, second, cross, weight_sq, version.to_grid(step**2 / 12))
