"""Sealed records: sums over at least k people, as integers, and how they add up."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import reduce
from typing import Any, Self, TypeVar

from pooling.errors import InvalidInput

BLOCK_SUMS = (
    "weight",  # q over units; a unit is one wearer in one block
    "weight_sq",  # q squared
    "first",  # q (x - reference), after the block's mean has been rounded
    "second",  # q (x - reference) squared, likewise
    "weight_share",  # q s, with s = sum over the unit's wears of (om / Om) squared
    "weight_sq_share",  # q squared s
    "weight_noise",  # q v, the sampling variance of the unit's mean
    "weight_sq_noise",  # q squared v
    "rounding",  # expected contribution of rounding to `second`
    "rounding_sq",  # variance of `first` from rounding
)
WITHIN_SUMS = ("squares", "freedom", "wear", "noise")  # om (z-x)^2; wears - 1; om (1-f); om (1-f) v
KURTOSIS_SUMS = ("cumulant", "pairs", "pairs_ratio", "wears")  # n k4/k2^2; n; n/(n-1); count

Sums = Mapping[str, tuple[int, ...]]
"""Per channel, integers in units of the version's grid."""


@dataclass(frozen=True, slots=True, order=True)
class Cell:
    """Where a record counts: scope ("everyone" or a group), place, and sensor model ("" = not resolved)."""

    scope: str
    place: str
    model: str = ""

    @classmethod
    def of(cls, key: Any) -> "Cell":
        """Read a cell off anything that has scope, place and sensor_model."""
        return cls(key.scope, key.place, key.sensor_model or "")

    @property
    def sensor_model(self) -> str | None:
        """Slug of the sensor model, or None where the record does not resolve it."""
        return self.model or None


def _added(a: Sums, b: Sums) -> Sums:
    if a.keys() != b.keys():
        raise InvalidInput("only sums of the same channels add up")
    return {name: tuple(x + y for x, y in zip(a[name], b[name], strict=True)) for name in a}


def _sums(payload: Mapping[str, Any]) -> Sums:
    return {name: tuple(int(unit) for unit in units) for name, units in payload.items()}


@dataclass(frozen=True)
class _Record:
    """What every sealed record carries."""

    end_bucket: int
    seal_version: int
    n_people: int
    sums: Sums
    family: str = field(default="accuracy", kw_only=True)
    """Which outcomes are summed: one of FAMILIES."""

    @property
    def key(self) -> tuple[Any, ...]:
        """Records of equal key add up to one."""
        raise NotImplementedError

    def _plus(self, other: Self) -> dict[str, Any]:
        if type(self) is not type(other) or self.key != other.key:
            raise InvalidInput("only records of the same kind, cell, end and seal version add up")
        summed = _added(self.sums, other.sums)
        return {"n_people": self.n_people + other.n_people, "sums": summed, "family": self.family}

    def _common(self, kind: str) -> dict[str, Any]:
        return {
            "kind": kind,
            "family": self.family,
            "end_bucket": self.end_bucket,
            "seal_version": self.seal_version,
            "n_people": self.n_people,
            "sums": {name: list(units) for name, units in self.sums.items()},
        }


def _read_common(payload: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "end_bucket": int(payload["end_bucket"]),
        "seal_version": int(payload["seal_version"]),
        "n_people": int(payload["n_people"]),
        "sums": _sums(payload["sums"]),
        "family": payload["family"],
    }


def _cell_payload(cell: Cell) -> dict[str, Any]:
    return {"scope": cell.scope, "place": cell.place, "sensor_model": cell.sensor_model}


def _read_cell(payload: Mapping[str, Any]) -> Cell:
    return Cell(payload["scope"], payload["place"], payload["sensor_model"] or "")


@dataclass(frozen=True)
class SealedBlock(_Record):
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
        return self._common("block") | _cell_payload(self.cell) | counts

    @classmethod
    def from_payload(cls, payload: Mapping[str, Any]) -> "SealedBlock":
        """Inverse of to_payload."""
        return cls(
            **_read_common(payload),
            cell=_read_cell(payload),
            n_wearers=int(payload["n_wearers"]),
            n_wears=int(payload["n_wears"]),
            n_pairs=int(payload["n_pairs"]),
        )


@dataclass(frozen=True)
class SealedOverlap(_Record):
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
        return self._common("overlap") | _cell_payload(self.cell) | {"other": _cell_payload(self.other)}

    @classmethod
    def from_payload(cls, payload: Mapping[str, Any]) -> "SealedOverlap":
        """Inverse of to_payload."""
        return cls(**_read_common(payload), cell=_read_cell(payload), other=_read_cell(payload["other"]))


@dataclass(frozen=True)
class SealedBundle(_Record):
    """Sums over a whole scope and slot that fewer than k people of a single block would carry.

    kind "within": squares between wears of one wearer at one cell. kind "kurtosis": shape of the readings.
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
        return cls(**_read_common(payload), scope=payload["scope"], kind=payload["kind"])


@dataclass(frozen=True)
class SealedTie(_Record):
    """Differences of the same wearers between the cells of one tie component, as Laplacian sums.

    Per channel, with c cells: right-hand side and its rounding variance (c numbers each); Laplacian, squared
    Laplacians and covariance pattern with the cell means (c x c each); squares about each wearer's own mean, cells less
    one, weighted share, weighted noise (one each).
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
        return self._common("tie") | {"cells": [_cell_payload(cell) for cell in self.cells]}

    @classmethod
    def from_payload(cls, payload: Mapping[str, Any]) -> "SealedTie":
        """Inverse of to_payload."""
        return cls(**_read_common(payload), cells=tuple(_read_cell(cell) for cell in payload["cells"]))


SealedRecord = SealedBlock | SealedOverlap | SealedBundle | SealedTie

R = TypeVar("R", SealedBlock, SealedOverlap, SealedBundle, SealedTie)

_READERS: Mapping[str, Callable[[Mapping[str, Any]], SealedRecord]] = {
    "block": SealedBlock.from_payload,
    "overlap": SealedOverlap.from_payload,
    "within": SealedBundle.from_payload,
    "kurtosis": SealedBundle.from_payload,
    "tie": SealedTie.from_payload,
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

    def __add__(self, other: "SealedRecords") -> "SealedRecords":
        return SealedRecords(
            self.blocks + other.blocks,
            self.overlaps + other.overlaps,
            self.bundles + other.bundles,
            self.ties + other.ties,
        )

    @classmethod
    def of(cls, records: Iterable[SealedRecord]) -> "SealedRecords":
        """Sort loose records by kind."""
        kinds: dict[type, list[Any]] = {SealedBlock: [], SealedOverlap: [], SealedBundle: [], SealedTie: []}
        for record in records:
            kinds[type(record)].append(record)
        return cls(*(tuple(found) for found in kinds.values()))

    def merged(self) -> "SealedRecords":
        """Add up all records of equal key. Integers, so any order of adding gives the same result."""
        return SealedRecords(_merged(self.blocks), _merged(self.overlaps), _merged(self.bundles), _merged(self.ties))

    def of_family(self, family: str) -> "SealedRecords":
        """Keep the records of one family of outcomes."""
        return SealedRecords(
            *(
                tuple(record for record in records if record.family == family)
                for records in (self.blocks, self.overlaps, self.bundles, self.ties)
            )
        )

    def within(self, scopes: Iterable[str]) -> "SealedRecords":
        """Keep what lies inside the scopes; an overlap needs both of its cells there."""
        kept = frozenset(scopes)
        return SealedRecords(
            tuple(block for block in self.blocks if block.scope in kept),
            tuple(pair for pair in self.overlaps if pair.cell.scope in kept and pair.other.scope in kept),
            tuple(bundle for bundle in self.bundles if bundle.scope in kept),
            tuple(tie for tie in self.ties if tie.scope in kept),
        )

    def to_payload(self) -> list[dict[str, Any]]:
        """Payloads of all records."""
        records: tuple[SealedRecord, ...] = (*self.blocks, *self.overlaps, *self.bundles, *self.ties)
        return [record.to_payload() for record in records]

    @classmethod
    def from_payload(cls, payload: Iterable[Mapping[str, Any]]) -> "SealedRecords":
        """Inverse of to_payload."""
        return cls.of(record_from_payload(entry) for entry in payload)
