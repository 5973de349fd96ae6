"""Sealed sums of parts put together: what all bundles of a place, or of all places, say of one partition."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import ceil

import numpy as np
from numpy.typing import NDArray

from pooling.hierarchy.pool import Counts
from pooling.sealing import SealedRecords, SealVersion
from pooling.sealing.parts import PART_SUMS, SealedParts
from pooling.sealing.records import BLOCK_SUMS, SealedBlock

Floats = NDArray[np.float64]
CHANNELS = ("direct", "rate15", "rate20", "shown_low")
ALL_PLACES = None
_CONSTANTS_OF = {"shown_low": "rate20"}
_REFERENCE_FREE = frozenset(("shown_low",))
_SAME_WEIGHT = 1e-6
"""Weights are whole multiples of 2^-40, added up."""


@dataclass(frozen=True)
class PartSums:
    """Sums of one channel over the parts of one partition; J parts, those in which somebody has a pair.

    first holds weighted sums of values less ``reference`` times weight, weight the weights; value_noise and
    weight_noise (J x J) are the covariances of the masking noise in them. squared_weight is about the sum over people
    of their squared weight in all parts.
    """

    parts: tuple[str, ...]
    reference: float
    first: Floats
    weight: Floats
    value_noise: Floats
    weight_noise: Floats
    squared_weight: float
    total: float
    """Weight in all parts: masking noise of weights adds up to nothing."""
    typical: Floats
    """Mean value in each part over all places; what variances are worked out from, so that no value sets its own."""
    n_accounts: int
    """Accounts, once for each bundle that they are in."""

    @property
    def share(self) -> Floats:
        """Share of the pairs in each part, each wear's pairs weighing together what the wear weighs."""
        return self.weight / self.total

    @property
    def mean(self) -> Floats:
        """Mean value in each part; the reference where no weight is left to divide by."""
        return self.reference + _ratio(self.first, self.weight)

    @property
    def whole(self) -> float:
        """Mean value over all parts."""
        return self.reference + float(self.first.sum()) / self.total

    def place_of(self, part: str) -> int:
        """Position of a part."""
        return self.parts.index(part)

    def can_tell(self, position: int, *, times: float = 4.0) -> bool:
        """Whether the weight in a part stands out of its masking noise; looks at weights alone, never at values."""
        return bool(self.weight[position] > times * self.weight_noise[position, position] ** 0.5)


SHARE_SPREAD = 0.05
"""Variance between wearers of the share of their pairs in a part, as a multiple of s (1 - s) (common practice)."""
PLACES_DIFFER = 0.15
"""Sd between places of the share of pairs in a part, as a multiple of that share (common practice)."""


def steadied(own: PartSums, everywhere: PartSums) -> PartSums:
    """A place's weights moved toward the shares of all places, by as much as masking noise hides them.

    Claim: if shares of places are normal about those of all, with the stated spreads, each weight is the posterior mean
    and ``weight_noise`` its posterior variance. A rare part, low fingersticks above all, has too little weight at one
    place to be divided by as it stands.
    """
    share = np.array([everywhere.share[everywhere.place_of(part)] for part in own.parts]).clip(0.0, 1.0)
    expected = share * own.total
    spread = (PLACES_DIFFER * expected) ** 2 + SHARE_SPREAD * share * (1 - share) * own.squared_weight
    noise = np.diag(own.weight_noise)
    trust = np.divide(spread, spread + noise, out=np.ones_like(spread), where=spread + noise > 0)
    weight = expected + trust * (own.weight - expected)
    typical = np.array([everywhere.mean[everywhere.place_of(part)] for part in own.parts])
    return replace(own, weight=weight, weight_noise=np.diag(trust * noise), typical=typical)


def place_sums(
    records: SealedRecords, partition: str, channel: str, versions: Mapping[int, SealVersion]
) -> dict[str | None, PartSums]:
    """Sums of each place that has a bundle of its own, steadied, and of all places together (None).

    Bundles that were not split by the partition are left out, and so are those of no pair.
    """
    by_place: dict[str | None, list[SealedParts]] = {}
    for record in records.parts:
        if len(_parts_of(record, partition, channel)) > 1:
            by_place.setdefault(ALL_PLACES, []).append(record)
            if record.place:
                by_place.setdefault(record.place, []).append(record)
    blocks = _Blocks.of(records)
    found = {place: _added(own, partition, channel, versions, blocks) for place, own in by_place.items()}
    return {place: own if place is ALL_PLACES else steadied(own, found[ALL_PLACES]) for place, own in found.items()}


def distinct_people(n_accounts: int, counts: Counts, members: Iterable[int]) -> int:
    """Lower bound of how many different people are behind bundles at some cells.

    Pairs of units of one wearer are counted over all blocks of the cells, so those of the bundles are never more.

    Parameters
    ----------
    n_accounts
        Accounts, once for each bundle that they are in.
    counts, members
        Counts of the cells, and which of them.
    """
    inside = np.ix_(list(members), list(members))
    pairs = int(np.triu(counts.shared[inside]).sum())
    return ceil(n_accounts**2 / (n_accounts + 2 * pairs) - 1e-9) if n_accounts else 0


def _parts_of(record: SealedParts, partition: str, channel: str) -> list[str]:
    start, end = f"{partition}.", f".{channel}"
    return [name[len(start) : -len(end)] for name in record.sums if name.startswith(start) and name.endswith(end)]


@dataclass(frozen=True)
class _Blocks:
    """Blocks of accuracy, and which places of a scope and end have bundles of their own."""

    blocks: tuple[SealedBlock, ...]
    bundled: frozenset[tuple[str, int, int, str]]

    @classmethod
    def of(cls, records: SealedRecords) -> "_Blocks":
        own = frozenset(
            _at(record, record.scope, record.place) for record in records.parts if record.place and not record.model
        )
        return cls(tuple(block for block in records.blocks if block.family == "accuracy"), own)

    def masked(self, record: SealedParts, partition: str, channel: str, version: SealVersion) -> float | None:
        """Variance of the masking noise of a bundle's blocks, to which that of its parts adds up.

        A bundle of a place holds all blocks there (`pooling.ledger.bundles_to_try`), one of no place all blocks of
        places without one. None where weights do not add up to theirs: cut-offs of one end that were not all split.
        """
        of = _CONSTANTS_OF.get(channel, channel)
        own = sorted((block for block in self.blocks if self._inside(block, record)), key=_cell_of)
        if not own:
            return None
        sums = np.array([[version.from_grid(unit) for unit in block.sums[of]] for block in own]).T
        weight, mask = (sums[BLOCK_SUMS.index(name)] for name in ("weight", "mask"))
        names = [f"{partition}.{part}.{of}" for part in _parts_of(record, partition, of)]
        whole = sum(version.from_grid(record.sums[name][PART_SUMS.index("weight")]) for name in names)
        if abs(whole - weight.sum()) > _SAME_WEIGHT * weight.sum():
            return None
        # Blocks hold no such count, so it is masked for the bundle's first block alone.
        return float(mask[0] if channel in _CONSTANTS_OF else mask.sum())

    def _inside(self, block: SealedBlock, record: SealedParts) -> bool:
        at = _at(block, block.cell.scope, block.cell.place)
        if record.place:
            return at == _at(record, record.scope, record.place)
        return at[:3] == _at(record, record.scope, "")[:3] and at not in self.bundled


def _at(record: SealedBlock | SealedParts, scope: str, place: str) -> tuple[str, int, int, str]:
    return scope, record.end_bucket, record.seal_version, place


def _cell_of(block: SealedBlock) -> tuple[str, str]:
    return block.cell.place, block.cell.model


def _added(
    bundles: list[SealedParts], partition: str, channel: str, versions: Mapping[int, SealVersion], blocks: _Blocks
) -> PartSums:
    from_newest = versions[max(record.seal_version for record in bundles)]
    reference = _reference(from_newest, channel)
    names = sorted({part for record in bundles for part in _parts_of(record, partition, channel)})
    n_parts = len(names)
    sums, squared_weight = np.zeros((n_parts, 2)), 0.0
    value_noise, weight_noise = np.zeros((n_parts, n_parts)), np.zeros((n_parts, n_parts))
    for record in bundles:
        version, own = versions[record.seal_version], _parts_of(record, partition, channel)
        at = [names.index(part) for part in own]
        first, weight, mask, weight_mask = np.array(
            [[version.from_grid(unit) for unit in record.sums[f"{partition}.{part}.{channel}"]] for part in own]
        ).T[: len(PART_SUMS)]
        sums[at, 0] += first + (_reference(version, channel) - reference) * weight
        sums[at, 1] += weight
        value_noise[np.ix_(at, at)] += _adding_up(mask, blocks.masked(record, partition, channel, version))
        weight_noise[np.ix_(at, at)] += _adding_up(weight_mask, 0.0)
        squared_weight += float(weight.sum()) ** 2 / record.n_people
    return PartSums(
        parts=tuple(names),
        reference=reference,
        first=sums[:, 0],
        weight=sums[:, 1],
        value_noise=value_noise,
        weight_noise=weight_noise,
        squared_weight=squared_weight,
        total=float(sums[:, 1].sum()),
        typical=reference + _ratio(sums[:, 0], sums[:, 1]),
        n_accounts=sum(record.n_people for record in bundles),
    )


def _ratio(first: Floats, weight: Floats) -> Floats:
    return np.divide(first, weight, out=np.zeros_like(first), where=weight > 0)


def _reference(version: SealVersion, channel: str) -> float:
    if channel in _REFERENCE_FREE:
        return 0.0
    return version.channels[_CONSTANTS_OF.get(channel, channel)].reference


def _adding_up(variances: Floats, whole: float | None) -> Floats:
    """Covariance of independent noise, given a sum that is drawn apart with variance `whole`; None: of no such sum.

    The sum is given as in a normal law: what it lacks goes to each by its variance (`pooling.sealing.parts`).

    >>> _adding_up(np.array([1.0, 1.0]), 0.0).tolist()
    [[0.5, -0.5], [-0.5, 0.5]]
    >>> _adding_up(np.array([1.0, 3.0]), 8.0).sum()
    np.float64(8.0)
    """
    total = variances.sum()
    if whole is None or total == 0:
        return np.diag(variances)
    return np.diag(variances) + (whole - total) * np.outer(variances, variances) / total**2
