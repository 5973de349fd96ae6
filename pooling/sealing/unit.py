"""One wearer at one cell in one slot: several wears become one unit before anything is added up."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pooling.errors import InvalidInput
from pooling.sealing.grid import Floats, Ints, exact_sums, squares
from pooling.sealing.outcomes import SummaryLike, has_value, values_of
from pooling.sealing.version import FAMILIES, FEWEST_PAIRS, SealVersion
from pooling.sealing.wear import Strata, WearValues, kurtosis_parts, wear_values

Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, repr=False)
class Member:
    """One wear about to be sealed, with the wearer it is on and the account that k counts."""

    person: str
    account: str
    summary: SummaryLike
    rated_life_days: int = 14
    by_lot: bool = False
    """Whether its site was drawn by lot before the start, and not chosen."""


@dataclass(frozen=True, slots=True, repr=False)
class UnitValues:
    """Weighted means of units' wears, and the weights they enter sums with; shape (n_channels, n_units) each.

    A channel that one of a unit's wears has no value in is not ``held``: nothing of it may be summed.
    """

    held: Bools
    value: Floats
    share: Floats
    """Sum of squared shares of the wears: 1 for one wear."""
    noise: Floats
    """Sampling variance of ``value``."""
    assumed: Floats
    """The same from the frozen constants."""
    q1: Floats
    """Weight of the unit in a cell mean."""
    q2: Floats
    """Weight within its wearer."""
    squares: Floats
    """What squares about the wearer's own mean hold, and of which variances."""
    wear_factor: Floats
    assumed_factor: Floats
    shares: Floats
    """Share of each wear in its unit, shape (n_channels, n_wears)."""


@dataclass(frozen=True, slots=True, repr=False)
class Units:
    """The units of all blocks of a slot, block after block, within each in the order of wearers' names."""

    family: str
    starts: Ints
    """Where the units of each block begin."""
    people: tuple[str, ...]
    accounts: tuple[str, ...]
    first_wear: Ints
    """Where the wears of each unit begin; their order is that in which the members came."""
    order: Ints
    """Per wear, the place of its member among all members of all blocks."""
    n_wears: Ints
    n_pairs: Ints
    lives_days: Ints
    """Per wear, how long the sensor was rated to last."""
    wear_pairs: Ints
    kurtosis: Floats
    """Per wear, the fourth cumulant; none outside accuracy."""
    values: UnitValues

    @property
    def n(self) -> int:
        """How many."""
        return len(self.people)

    def ranges(self) -> list[slice]:
        """The units of each block."""
        return [slice(start, end) for start, end in pairwise([*self.starts.tolist(), self.n])]

    @property
    def block(self) -> Ints:
        """Number of the block of each unit."""
        return np.repeat(np.arange(self.starts.size), np.diff(self.starts, append=self.n))

    def n_accounts(self, units: slice) -> int:
        """Accounts among some of them."""
        return len(set(self.accounts[units]))

    def wears_of(self, units: Ints | slice) -> Ints:
        """Numbers of the wears of some of them, unit by unit."""
        n_wears = self.n_wears[units]
        before = np.cumsum(n_wears) - n_wears
        return np.arange(n_wears.sum()) + np.repeat(self.first_wear[units] - before, n_wears)

    def lives_of(self, units: Ints | slice) -> frozenset[int]:
        """How long the sensors of some of them were rated to last."""
        return frozenset(self.lives_days[self.wears_of(units)].tolist())

    def rows(self) -> list[tuple[str, int]]:
        """All channels of the family, with their rows."""
        return [(channel, row) for row, channel in enumerate(FAMILIES[self.family])]

    def rows_held_by(self, units: Ints | slice) -> list[tuple[str, int]]:
        """Channels in which each of some units has a value, with their rows."""
        held: Bools = np.all(self.values.held[:, units], axis=1)
        return [(channel, row) for channel, row in self.rows() if held[row]]


def units_of(blocks: Sequence[Sequence[Member]], version: SealVersion, family: str = "accuracy") -> Units:
    """Gather the members of each block by wearer.

    Raises
    ------
    InvalidInput
        A wearer is named under two accounts within a block, or a wear has no value in the family.
    """
    members = [member for block in blocks for member in block]
    if not all(has_value(member.summary, family) for member in members):
        raise InvalidInput(f"a wear has no value for {family}; accuracy needs {FEWEST_PAIRS} pairs, not all alike")
    ends = np.cumsum([0, *map(len, blocks)])
    order = [index for start, end in pairwise(ends.tolist()) for index in _by_person(members, start, end)]
    wears = [members[index] for index in order]
    first_wear = _where_units_begin([wear.person for wear in wears], ends[:-1])
    n_wears = np.diff(first_wear, append=len(wears))
    accounts = [wears[index].account for index in first_wear.tolist()]
    unit_of_wear = np.repeat(np.arange(first_wear.size), n_wears).tolist()
    if any(wear.account != accounts[unit] for wear, unit in zip(wears, unit_of_wear, strict=True)):
        raise InvalidInput("a wearer belongs to one account")
    lives = np.array([wear.rated_life_days for wear in wears], dtype=np.int64)
    values, pairs, kurtosis = _values([wear.summary for wear in wears], family, version, lives)
    return Units(
        family=family,
        starts=np.searchsorted(first_wear, ends[:-1]),
        people=tuple(wears[index].person for index in first_wear.tolist()),
        accounts=tuple(accounts),
        first_wear=first_wear,
        order=np.array(order, dtype=np.int64),
        n_wears=n_wears,
        n_pairs=np.add.reduceat(pairs, first_wear) if first_wear.size else pairs,
        lives_days=lives,
        wear_pairs=pairs,
        kurtosis=kurtosis,
        values=_unit_values(values, first_wear, version, family),
    )


def _by_person(members: Sequence[Member], start: int, end: int) -> list[int]:
    return sorted(range(start, end), key=lambda index: members[index].person)


def _where_units_begin(people: Sequence[str], blocks: Ints) -> Ints:
    """Where the wearer is another than before, and where a block begins."""
    new = np.array([index == 0 or people[index - 1] != own for index, own in enumerate(people)], dtype=bool)
    new[blocks[blocks < new.size]] = True
    return np.flatnonzero(new)


def _values(
    wears: Sequence[SummaryLike], family: str, version: SealVersion, lives_days: Ints
) -> tuple[WearValues, Ints, Floats]:
    """Values of wears, their pairs, and their fourth cumulants; there are no pairs outside accuracy."""
    if family != "accuracy":
        return values_of(wears, family, version, lives_days=lives_days), np.zeros(len(wears), np.int64), np.empty(0)
    strata = Strata.of([wear.strata["all"] for wear in wears])
    n_far = np.array([sum(wear.zones[2:]) for wear in wears], dtype=np.int64)
    return wear_values(strata, n_far, version), strata.n_pairs, kurtosis_parts(strata)


def _unit_values(wears: WearValues, first_wear: Ints, version: SealVersion, family: str) -> UnitValues:
    constants = [version.channels[channel] for channel in FAMILIES[family]]
    between = np.array([[own.person_variance] for own in constants])
    within_person = np.array([[own.person_cell_sd**2] for own in constants])
    unit_of_wear = np.repeat(np.arange(first_wear.size), np.diff(first_wear, append=wears.value.shape[1]))
    total = exact_sums(wears.weight, first_wear)
    shares, assumed = wears.weight / total[:, unit_of_wear], wears.assumed
    squared = shares * shares
    # What the squares about the wearer's own mean hold of each wear.
    inner = wears.weight * (1.0 - shares)
    value, share, noise, unit_assumed, wear_factor, assumed_factor = exact_sums(
        np.stack([shares * wears.value, squared, squared * wears.noise, squared * assumed, inner, inner * assumed]),
        first_wear,
    )
    away = wears.value - value[:, unit_of_wear]
    return UnitValues(
        held=np.logical_and.reduceat(wears.held, first_wear, axis=1),
        value=value,
        share=share,
        noise=noise,
        assumed=unit_assumed,
        q1=between / (between + 1.0 / total),
        q2=within_person / (within_person + 1.0 / total),
        squares=exact_sums(wears.weight * squares(away), first_wear),
        wear_factor=wear_factor,
        assumed_factor=assumed_factor,
        shares=shares,
    )
