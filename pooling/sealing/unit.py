"""One wearer at one cell in one slot: several wears become one unit before anything is added up."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import fsum
from operator import mul
from typing import NamedTuple

from pooling.errors import InvalidInput
from pooling.sealing.outcomes import SummaryLike, has_value, values_of
from pooling.sealing.version import FAMILIES, FEWEST_PAIRS, SealVersion
from pooling.sealing.wear import WearValue, assumed_noise, kurtosis_parts


@dataclass(frozen=True, slots=True, repr=False)
class Member:
    """One wear about to be sealed, with the wearer it is on and the account that k counts."""

    person: str
    account: str
    summary: SummaryLike
    rated_life_days: int = 14


class UnitValue(NamedTuple):
    """Weighted mean of one wearer's wears in one channel, and the weights it enters sums with.

    ``share`` is the sum of squared shares of the wears (1 for one wear), ``noise`` the sampling variance of ``value``,
    ``assumed`` the same from the frozen constants. ``q1`` weighs the unit in a cell mean, ``q2`` within its wearer.
    """

    value: float
    shares: tuple[float, ...]
    """Share of each wear in the unit, in the order in which the members came."""
    share: float
    noise: float
    assumed: float
    q1: float
    q2: float
    squares: float
    wear_factor: float
    assumed_factor: float

    def __repr__(self) -> str:
        return "UnitValue()"  # it is of one person


@dataclass(frozen=True, slots=True, repr=False)
class Unit:
    """All of one wearer's wears in one block; channels that one of them has no value in are left out."""

    person: str
    account: str
    n_wears: int
    n_pairs: int
    lives_days: frozenset[int]
    """How long the sensors were rated to last."""
    channels: dict[str, UnitValue]
    kurtosis: tuple[tuple[int, float], ...]
    """Pairs and fourth cumulant of each wear."""


def _unit_value(channel: str, wears: Sequence[WearValue], assumed: Sequence[float], version: SealVersion) -> UnitValue:
    constants = version.channels[channel]
    between, within_person = constants.person_variance, constants.person_cell_sd**2
    values, noises, weights = zip(*wears, strict=True)
    total = fsum(weights)
    q1, q2 = between / (between + 1.0 / total), within_person / (within_person + 1.0 / total)
    if len(wears) == 1:  # most are, and the sums below would give these same numbers
        return UnitValue(values[0], (1.0,), 1.0, noises[0], assumed[0], q1, q2, 0.0, 0.0, 0.0)
    shares = [weight / total for weight in weights]
    value = fsum(map(mul, shares, values))
    squared = [share * share for share in shares]
    # What the squares about the wearer's own mean hold of each wear.
    inner = [weight * (1.0 - share) for share, weight in zip(shares, weights, strict=True)]
    return UnitValue(
        value=value,
        shares=tuple(shares),
        share=fsum(squared),
        noise=fsum(map(mul, squared, noises)),
        assumed=fsum(map(mul, squared, assumed)),
        q1=q1,
        q2=q2,
        squares=fsum([weight * (own - value) ** 2 for own, weight in zip(values, weights, strict=True)]),
        wear_factor=fsum(inner),
        assumed_factor=fsum(map(mul, inner, assumed)),
    )


def units_of(members: Sequence[Member], version: SealVersion, family: str = "accuracy") -> tuple[Unit, ...]:
    """Gather the members of one block by wearer, in the order of their names.

    Raises
    ------
    InvalidInput
        A wearer is named under two accounts, or a wear has no value in the family.
    """
    wears: dict[str, list[Member]] = {}
    for member in members:
        if not has_value(member.summary, family):
            raise InvalidInput(f"a wear has no value for {family}; accuracy needs {FEWEST_PAIRS} pairs, not all alike")
        wears.setdefault(member.person, []).append(member)
    return tuple(_unit(person, wears[person], version, family) for person in sorted(wears))


def _unit(person: str, wears: Sequence[Member], version: SealVersion, family: str) -> Unit:
    if len({member.account for member in wears}) > 1:
        raise InvalidInput("a wearer belongs to one account")
    values = [values_of(member.summary, family, version, rated_life_days=member.rated_life_days) for member in wears]
    channels = [channel for channel in FAMILIES[family] if all(channel in found for found in values)]
    strata = [member.summary.strata["all"] for member in wears] if family == "accuracy" else []
    n_readings = [stratum.n_pairs for stratum in strata] or [1] * len(wears)
    return Unit(
        person=person,
        account=wears[0].account,
        n_wears=len(wears),
        n_pairs=sum(stratum.n_pairs for stratum in strata),
        lives_days=frozenset(member.rated_life_days for member in wears),
        channels={
            channel: _unit_value(
                channel,
                [found[channel] for found in values],
                [assumed_noise(channel, n, version) for n in n_readings],
                version,
            )
            for channel in channels
        },
        kurtosis=tuple((stratum.n_pairs, kurtosis_parts(stratum)) for stratum in strata),
    )


def channels_of_all(units: Iterable[Unit], family: str) -> tuple[str, ...]:
    """Channels of the family in which every unit has a value."""
    units = tuple(units)
    return tuple(channel for channel in FAMILIES[family] if all(channel in unit.channels for unit in units))
