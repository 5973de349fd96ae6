"""Wears whose site was drawn by lot against those whose site was chosen, at one site with one sensor model."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from pooling.hierarchy import FitRules, PooledFit
from pooling.hierarchy.noise import seen_factors
from pooling.hierarchy.pool import Counts, channel_pool, holding
from pooling.hierarchy.results import Estimate
from pooling.parts.contrasts import Measured
from pooling.parts.exchange import exchangeable
from pooling.parts.sums import distinct_people
from pooling.sealing import SealedRecords, SealVersion
from pooling.sealing.lots import ALIKE, CHANNEL, CHOSEN, LOT
from pooling.sealing.parts import SealedParts

PLACES_SCALE = 0.01
"""Of the half-normal prior on how much places differ in it."""
STANDS_OUT = 4.0
"""The weight of either side has to be so many times its masking noise."""


@dataclass(frozen=True, slots=True)
class LotRow:
    """MARD of wears by lot less that of chosen ones, in points; None at "place" is the mean of all that are told."""

    place: str | None
    n_people: int
    lot_less_chosen_points: Estimate


@dataclass(frozen=True, slots=True)
class Spread:
    """What is known of the pool: its mean, and how much more wearers differ than the seal version assumes."""

    mean: float
    excess: Mapping[int, float]
    """By seal version, variance of a wearer's value over the assumed one."""
    lasting: float
    """Share of that variance that a wearer keeps from one cut-off to the next."""


@dataclass(frozen=True, slots=True)
class _Told:
    """What one record says, or several together; variances of masking noise and of people apart."""

    value: float
    masking: float
    people: float
    weight: float
    n_accounts: int

    def measured(self, again: float) -> Measured:
        return Measured(self.value, self.masking + again * self.people)


def lot_rows(
    records: SealedRecords, fit: PooledFit, rules: FitRules, rng: np.random.Generator, counts: Counts
) -> tuple[LotRow, ...]:
    """Difference of each place that tells it, all places together first.

    Claim: within a site, a sensor model and a cut-off, wears by lot less chosen ones, in expected MARD of a new wear of
    somebody like those on either side. Assumptions: means of wearers are about normal; places are exchangeable about a
    common difference (`exchangeable`). What differs between sites, models or cut-offs is in no difference, since each
    is taken within one block. All places together are the mean of what each says, by the weight of its wears.

    Parameters
    ----------
    records : SealedRecords
        Merged.
    fit : PooledFit
        Its spreads say how much wearers differ.
    rules : FitRules
    rng : numpy.random.Generator
    counts : Counts
        Of the direct channel.
    """
    by_lot = [record for record in records.parts if f"{LOT}.{CHANNEL}" in record.sums]
    if not by_lot:
        return ()
    spread = spread_of(records, fit, rules)
    found: dict[str, list[_Told]] = {}
    for record in by_lot:
        if (own := _told(record, rules.versions[record.seal_version], spread)) is not None:
            found.setdefault(record.place, []).append(own)
    told = {place: _mean(found[place]) for place in sorted(found)}
    if not told:
        return ()
    members = counts.members_by_place()
    measured = [own.measured(_again(counts, members[place], spread)) for place, own in told.items()]
    draws = exchangeable(measured, PLACES_SCALE, rng, draws=rules.draws)
    rows = tuple(
        LotRow(place, distinct_people(own.n_accounts, counts, members[place]), Estimate.of(100 * draws[:, index]))
        for index, (place, own) in enumerate(told.items())
    )
    if len(told) == 1:
        return rows
    everywhere = [index for place in told for index in members[place]]
    whole = _mean(list(told.values()))
    (own,) = exchangeable([whole.measured(_again(counts, everywhere, spread))], PLACES_SCALE, rng, draws=rules.draws).T
    return LotRow(None, distinct_people(whole.n_accounts, counts, everywhere), Estimate.of(100 * own)), *rows


def spread_of(records: SealedRecords, fit: PooledFit, rules: FitRules) -> Spread:
    """Variance of a wearer's mean as the fit finds it, for one wear of the usual length, over the assumed one."""
    blocks = holding(records, CHANNEL).blocks
    bundles = [one for one in records.bundles if one.kind == "between" and one.family == "accuracy"]
    factor = seen_factors(bundles, CHANNEL)
    n_pairs = sum(block.n_pairs for block in blocks) / sum(block.n_wears for block in blocks)
    people, wear = (fit.spreads[CHANNEL][name].median ** 2 for name in ("people", "wear"))

    def of_readings(number: int) -> float:
        return factor.get(number, 1.0) * rules.versions[number].channels[CHANNEL].noise / n_pairs

    def excess(number: int) -> float:
        constants = rules.versions[number].channels[CHANNEL]
        assumed = constants.person_variance + constants.wear_sd**2 + constants.noise / n_pairs
        return float((people + wear + of_readings(number)) / assumed)

    numbers = sorted({block.seal_version for block in blocks})
    return Spread(
        channel_pool(records, CHANNEL, rules.versions).scale,
        {number: excess(number) for number in numbers},
        people / (people + wear + of_readings(numbers[-1])),
    )


def _again(counts: Counts, members: Sequence[int], spread: Spread) -> float:
    """How much more people's variance counts because some of them are there at several cut-offs, or at several cells.

    As if whoever is there again were on the same side each time: who likes a site goes on to choose it.
    """
    inside = np.ix_(list(members), list(members))
    n_units, n_pairs = sum(counts.n_wearers[index] for index in members), int(np.triu(counts.shared[inside]).sum())
    return 1 + 2 * spread.lasting * n_pairs / n_units


def _told(record: SealedParts, version: SealVersion, spread: Spread) -> _Told | None:
    """One record's difference; None where a side's weight does not stand out of its noise (values are not looked at).

    Noise of both sides is of one variance and mostly goes against each other (`ALIKE`). A wearer of weight q adds
    q (x - mean) of variance q times that of people, if the constants hold, and `spread` times that else.
    """
    constants = version.channels[CHANNEL]
    lot, chosen = ([version.from_grid(unit) for unit in record.sums[f"{side}.{CHANNEL}"]] for side in (LOT, CHOSEN))
    (first, weight, noise, weight_noise), (other_first, other_weight, *_) = lot, chosen
    if min(weight, other_weight) <= STANDS_OUT * weight_noise**0.5:
        return None
    apart = 1 / weight + 1 / other_weight
    masking = noise * (1 / weight**2 + 1 / other_weight**2 - 2 * ALIKE / (weight * other_weight))
    masking += ((spread.mean - constants.reference) * apart) ** 2 * weight_noise
    people = spread.excess[record.seal_version] * constants.person_variance * apart
    return _Told(first / weight - other_first / other_weight, masking, people, 1 / apart, record.n_people)


def _mean(told: Sequence[_Told]) -> _Told:
    """Weighted mean of differences; weights know how many wears there are and not what they say."""
    shares = np.array([one.weight for one in told])
    shares /= shares.sum()
    return _Told(
        value=float(shares @ [one.value for one in told]),
        masking=float(shares**2 @ [one.masking for one in told]),
        people=float(shares**2 @ [one.people for one in told]),
        weight=sum(one.weight for one in told),
        n_accounts=sum(one.n_accounts for one in told),
    )
