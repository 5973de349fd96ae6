"""One wearer at one cell in one slot: several wears become one unit before anything is added up."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum
from typing import Protocol

from pooling.errors import InvalidInput
from pooling.sealing.version import CHANNELS, SealVersion
from pooling.sealing.wear import StratumLike, assumed_noise, kurtosis_parts, wear_values


class SummaryLike(Protocol):
    """What sealing reads of a wear summary."""

    @property
    def strata(self) -> dict[str, StratumLike]: ...


@dataclass(frozen=True, slots=True)
class Member:
    """One wear about to be sealed, with the wearer it is on and the account that k counts."""

    person: str
    account: str
    summary: SummaryLike


@dataclass(frozen=True, slots=True)
class UnitValue:
    """Weighted mean of one wearer's wears in one channel, and the weights it enters sums with.

    ``share`` is the sum of squared shares of the wears (1 for one wear), ``noise`` the sampling variance of ``value``,
    ``assumed`` the same from the frozen constants. ``q1`` weighs the unit in a cell mean, ``q2`` within its wearer.
    """

    value: float
    share: float
    noise: float
    assumed: float
    q1: float
    q2: float
    squares: float
    wear_factor: float
    noise_factor: float
    assumed_factor: float


@dataclass(frozen=True, slots=True)
class Unit:
    """All of one wearer's wears in one block."""

    person: str
    account: str
    n_wears: int
    n_pairs: int
    channels: dict[str, UnitValue]
    kurtosis: tuple[tuple[int, float], ...]
    """Pairs and fourth cumulant of each wear."""


def _unit_value(channel: str, strata: Sequence[StratumLike], version: SealVersion) -> UnitValue:
    constants = version.channels[channel]
    wears = [wear_values(stratum, version)[channel] for stratum in strata]
    total = fsum(wear.weight for wear in wears)
    shares = [wear.weight / total for wear in wears]
    value = fsum(share * wear.value for share, wear in zip(shares, wears, strict=True))
    assumed = [assumed_noise(channel, stratum.n_pairs, version) for stratum in strata]
    between, within_person = constants.person_variance, constants.person_cell_sd**2
    # What the squares about the wearer's own mean hold of each wear.
    inner = [wear.weight * (1.0 - share) for share, wear in zip(shares, wears, strict=True)]
    return UnitValue(
        value=value,
        share=fsum(share * share for share in shares),
        noise=fsum(share * share * wear.noise for share, wear in zip(shares, wears, strict=True)),
        assumed=fsum(share * share * noise for share, noise in zip(shares, assumed, strict=True)),
        q1=between / (between + 1.0 / total),
        q2=within_person / (within_person + 1.0 / total),
        squares=fsum(wear.weight * (wear.value - value) ** 2 for wear in wears),
        wear_factor=fsum(inner),
        noise_factor=fsum(factor * wear.noise for factor, wear in zip(inner, wears, strict=True)),
        assumed_factor=fsum(factor * noise for factor, noise in zip(inner, assumed, strict=True)),
    )


def units_of(members: Sequence[Member], version: SealVersion) -> tuple[Unit, ...]:
    """Gather the members of one block by wearer, in the order of their names.

    Raises
    ------
    InvalidInput
        A wearer is named under two accounts, or a wear has too few pairs.
    """
    wears: dict[str, list[Member]] = {}
    for member in members:
        wears.setdefault(member.person, []).append(member)
    units = []
    for person in sorted(wears):
        if len({member.account for member in wears[person]}) > 1:
            raise InvalidInput("a wearer belongs to one account")
        strata = [member.summary.strata["all"] for member in wears[person]]
        units.append(
            Unit(
                person=person,
                account=wears[person][0].account,
                n_wears=len(strata),
                n_pairs=sum(stratum.n_pairs for stratum in strata),
                channels={channel: _unit_value(channel, strata, version) for channel in CHANNELS},
                kurtosis=tuple((stratum.n_pairs, kurtosis_parts(stratum)) for stratum in strata),
            )
        )
    return tuple(units)
