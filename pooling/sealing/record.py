"""What every sealed record has in common: where it counts, when it ends, integers that add up."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Self

from pooling.errors import InvalidInput

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


def added(a: Sums, b: Sums) -> Sums:
    """Two records' sums, number by number."""
    if a.keys() != b.keys():
        raise InvalidInput("only sums of the same channels add up")
    return {name: tuple(x + y for x, y in zip(a[name], b[name], strict=True)) for name in a}


def _sums(payload: Mapping[str, Any]) -> Sums:
    return {name: tuple(int(unit) for unit in units) for name, units in payload.items()}


@dataclass(frozen=True)
class Record:
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
        summed = added(self.sums, other.sums)
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


def read_common(payload: Mapping[str, Any]) -> dict[str, Any]:
    """The fields of every record, from its payload."""
    return {
        "end_bucket": int(payload["end_bucket"]),
        "seal_version": int(payload["seal_version"]),
        "n_people": int(payload["n_people"]),
        "sums": _sums(payload["sums"]),
        "family": payload["family"],
    }


def cell_payload(cell: Cell) -> dict[str, Any]:
    """A cell as a plain mapping."""
    return {"scope": cell.scope, "place": cell.place, "sensor_model": cell.sensor_model}


def read_cell(payload: Mapping[str, Any]) -> Cell:
    """Inverse of cell_payload."""
    return Cell(payload["scope"], payload["place"], payload["sensor_model"] or "")
