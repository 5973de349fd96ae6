"""Sealed records: sums over at least k people, as integers, and how they add up."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import reduce
from typing import Any, TypeVar

from pooling.errors import InvalidInput
from pooling.sealing.parts import SealedParts
from pooling.sealing.record import Cell, Record, cell_payload, read_cell, read_common

BLOCK_SUMS = (
    "weight",  # q over units; a unit is one wearer in one block
    "weight_sq",  # q squared
    "first",  # q (x - reference), and masking noise
    "weight_sq_share",  # q squared s, with s = sum over the unit's wears of (om / Om) squared
    "weight_sq_noise",  # q squared v0, the sampling variance that the version assumes for the unit's mean
    "mask",  # variance of the masking noise of `first`
)
BETWEEN_SUMS = (
    "squares",  # q times squares about the block's mean, over blocks, and masking noise
    "freedom",  # units less blocks
    "person",  # what one unit of variance between people adds to the expected squares
    "wear",  # the same of variance between wears
    "noise",  # the same of the assumed sampling variance, as a whole
    "mask",  # variance of the masking noise of `squares`
    "seen",  # q v, sampling variances as readings tell them, and masking noise
    "assumed",  # q v0
)
WITHIN_SUMS = ("squares", "freedom", "wear", "noise", "mask")
"""om (z-x)^2 and noise; wears - 1; om (1-f); om (1-f) v0; variance of the noise."""
KURTOSIS_SUMS = ("cumulant", "pairs", "pairs_ratio", "wears")  # n k4/k2^2; n; n/(n-1); count


@dataclass(frozen=True)
class SealedBlock(Record):
    """Sums over one block: k or more people (accounts) at one cell. n_people counts accounts, n_wearers persons."""

    cell: Cell = field(kw_only=True)
    n_wearers: int = field(kw_only=True)
    n_wears: int = field(kw_only=True)
    n_pairs: int = field(kw_only=True)

    @property
    def scope(self) -> str:
        """Scope of the block's cell."""
        return self.cell.scope

    @property
    def key(self) -> tuple[Any, ...]:
        """Family, cell, end, version, and the channels that all of the block have."""
        return (self.family, self.cell, self.end_bucket, self.seal_version, tuple(self.sums))

    def __add__(self, other: "SealedBlock") -> "SealedBlock":
        common = self._plus(other)
        return SealedBlock(
            self.end_bucket,
            self.seal_version,
            **common,
            cell=self.cell,
            n_wearers=self.n_wearers + other.n_wearers,
            n_wears=self.n_wears + other.n_wears,
            n_pairs=self.n_pairs + other.n_pairs,
        )

    def to_payload(self) -> dict[str, Any]:
        """Plain mapping of strings and integers."""
        counts = {"n_wearers": self.n_wearers, "n_wears": self.n_wears, "n_pairs": self.n_pairs}
        return self._common("block") | cell_payload(self.cell) | counts

    @classmethod
    def from_payload(cls, payload: Mapping[str, Any]) -> "SealedBlock":
        """Inverse of to_payload."""
        return cls(
            **read_common(payload),
            cell=read_cell(payload),
            n_wearers=int(payload["n_wearers"]),
            n_wears=int(payload["n_wears"]),
            n_pairs=int(payload["n_pairs"]),
        )


@dataclass(frozen=True)
class SealedOverlap(Record):
    """How much two cells (or one cell with itself) share wearers: sums of q q' over pairs of units of one wearer.

    Holds no value of anybody. Its n_people counts pairs of units; its end is the earlier end of the two.
    """

    cell: Cell = field(kw_only=True)
    other: Cell = field(kw_only=True)

    @property
    def scope(self) -> str:
        """Scope of the first cell; other.scope may differ."""
        return self.cell.scope

    @property
    def key(self) -> tuple[Any, ...]:
        """Family, both cells, end and version."""
        return (self.family, self.cell, self.other, self.end_bucket, self.seal_version)

    def __add__(self, other: "SealedOverlap") -> "SealedOverlap":
        common = self._plus(other)
        return SealedOverlap(self.end_bucket, self.seal_version, **common, cell=self.cell, other=self.other)

    def to_payload(self) -> dict[str, Any]:
        """Plain mapping of strings and integers."""
        return self._common("overlap") | cell_payload(self.cell) | {"other": cell_payload(self.other)}

    @classmethod
    def from_payload(cls, payload: Mapping[str, Any]) -> "SealedOverlap":
        """Inverse of to_payload."""
        return cls(**read_common(payload), cell=read_cell(payload), other=read_cell(payload["other"]))


@dataclass(frozen=True)
class SealedBundle(Record):
    """Sums over a whole scope and slot that fewer than k people of a single block would carry.

    kind "between": squares of wearers about the mean of their block. kind "within": squares between wears of one wearer
    at one cell. kind "kurtosis": shape of the readings.
    """

    scope: str = field(kw_only=True)
    kind: str = field(kw_only=True)

    @property
    def key(self) -> tuple[Any, ...]:
        """Family, scope, kind, end, version and channels."""
        return (self.family, self.scope, self.kind, self.end_bucket, self.seal_version, tuple(self.sums))

    def __add__(self, other: "SealedBundle") -> "SealedBundle":
        return SealedBundle(self.end_bucket, self.seal_version, **self._plus(other), scope=self.scope, kind=self.kind)

    def to_payload(self) -> dict[str, Any]:
        """Plain mapping of strings and integers."""
        return self._common(self.kind) | {"scope": self.scope}

    @classmethod
    def from_payload(cls, payload: Mapping[str, Any]) -> "SealedBundle":
        """Inverse of to_payload."""
        return cls(**read_common(payload), scope=payload["scope"], kind=payload["kind"])


@dataclass(frozen=True)
class SealedTie(Record):
    """Differences of the same wearers between the cells of one tie component, as Laplacian sums.

    Per channel, with c cells: right-hand side and the variance of its masking noise (c numbers each); Laplacian,
    squared Laplacians and covariance pattern with the cell means (c x c each); squares about each wearer's own mean,
    cells less one, weighted share, weighted assumed noise, variance of the squares' masking noise (one each).
    """

    cells: tuple[Cell, ...] = field(kw_only=True)

    @property
    def scope(self) -> str:
        """Scope that all cells of the component have in common."""
        return self.cells[0].scope

    @property
    def key(self) -> tuple[Any, ...]:
        """Family, cells, end, version and channels."""
        return (self.family, self.cells, self.end_bucket, self.seal_version, tuple(self.sums))

    def __add__(self, other: "SealedTie") -> "SealedTie":
        return SealedTie(self.end_bucket, self.seal_version, **self._plus(other), cells=self.cells)

    def to_payload(self) -> dict[str, Any]:
        """Plain mapping of strings and integers."""
        return self._common("tie") | {"cells": [cell_payload(cell) for cell in self.cells]}

    @classmethod
    def from_payload(cls, payload: Mapping[str, Any]) -> "SealedTie":
        """Inverse of to_payload."""
        return cls(**read_common(payload), cells=tuple(read_cell(cell) for cell in payload["cells"]))


SealedRecord = SealedBlock | SealedOverlap | SealedBundle | SealedTie | SealedParts

R = TypeVar("R", SealedBlock, SealedOverlap, SealedBundle, SealedTie, SealedParts)

_READERS: Mapping[str, Callable[[Mapping[str, Any]], SealedRecord]] = {
    "block": SealedBlock.from_payload,
    "overlap": SealedOverlap.from_payload,
    "between": SealedBundle.from_payload,
    "within": SealedBundle.from_payload,
    "kurtosis": SealedBundle.from_payload,
    "tie": SealedTie.from_payload,
    "parts": SealedParts.from_payload,
}


def record_from_payload(payload: Mapping[str, Any]) -> SealedRecord:
    """Read any sealed record back from its payload.

    Raises
    ------
    InvalidInput
        The payload names no known kind of record.
    """
    reader = _READERS.get(payload.get("kind", ""))
    if reader is None:
        raise InvalidInput(f"{payload.get('kind')!r} is no kind of sealed record; known are {', '.join(_READERS)}")
    return reader(payload)


def _merged(records: Iterable[R]) -> tuple[R, ...]:
    groups: dict[tuple[Any, ...], list[R]] = {}
    for record in records:
        groups.setdefault(record.key, []).append(record)
    return tuple(reduce(lambda a, b: a + b, groups[key]) for key in sorted(groups))


@dataclass(frozen=True)
class SealedRecords:
    """Everything that a fit may read. Sums of two servers, two slots or two groups are put together with ``+``."""

    blocks: tuple[SealedBlock, ...] = ()
    overlaps: tuple[SealedOverlap, ...] = ()
    bundles: tuple[SealedBundle, ...] = ()
    ties: tuple[SealedTie, ...] = ()
    parts: tuple[SealedParts, ...] = ()

    def __add__(self, other: "SealedRecords") -> "SealedRecords":
        return SealedRecords.of((*self.records, *other.records))

    @property
    def records(self) -> tuple[SealedRecord, ...]:
        """All of them, kind by kind."""
        return (*self.blocks, *self.overlaps, *self.bundles, *self.ties, *self.parts)

    @classmethod
    def of(cls, records: Iterable[SealedRecord]) -> "SealedRecords":
        """Sort loose records by kind."""
        kinds: dict[type, list[Any]] = {
            kind: [] for kind in (SealedBlock, SealedOverlap, SealedBundle, SealedTie, SealedParts)
        }
        for record in records:
            kinds[type(record)].append(record)
        return cls(*(tuple(found) for found in kinds.values()))

    def merged(self) -> "SealedRecords":
        """Add up all records of equal key. Integers, so any order of adding gives the same result."""
        return SealedRecords(
            _merged(self.blocks),
            _merged(self.overlaps),
            _merged(self.bundles),
            _merged(self.ties),
            _merged(self.parts),
        )

    def of_family(self, family: str) -> "SealedRecords":
        """Keep the records of one family of outcomes."""
        return SealedRecords.of(record for record in self.records if record.family == family)

    def within(self, scopes: Iterable[str]) -> "SealedRecords":
        """Keep what lies inside the scopes; an overlap needs both of its cells there."""
        kept = frozenset(scopes)
        return SealedRecords.of(
            record
            for record in self.records
            if record.scope in kept and not (isinstance(record, SealedOverlap) and record.other.scope not in kept)
        )

    def to_payload(self) -> list[dict[str, Any]]:
        """Payloads of all records."""
        return [record.to_payload() for record in self.records]

    @classmethod
    def from_payload(cls, payload: Iterable[Mapping[str, Any]]) -> "SealedRecords":
        """Inverse of to_payload."""
        return cls.of(record_from_payload(entry) for entry in payload)
