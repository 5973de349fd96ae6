"""Wears whose pairs are chosen, as a record and as columns."""

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import pytest

from pooling.columns import PairColumns, columns_from
from pooling.record import WearRecord, parse_record, record_from
from pooling.report import wear_report


@dataclass(frozen=True)
class Wear:
    columns: PairColumns
    record: WearRecord

    def report(self, **how: Any) -> dict[str, Any]:
        return wear_report(self.columns, self.record, **how)


@pytest.fixture
def read() -> Callable[[dict[str, Any]], Wear]:
    """A record as it comes, read."""

    def reading(content: dict[str, Any]) -> Wear:
        record = parse_record(json.dumps(content).encode())
        return Wear(columns_from(record), record)

    return reading


@pytest.fixture
def wear_of(good_record: dict[str, Any]) -> Callable[..., Wear]:
    """A wear of these readings, one every `every_min` minutes; further columns by name."""

    def make(
        reference: Sequence[float], sensor: Sequence[float | None], *, every_min: int = 60, **columns: Sequence[Any]
    ) -> Wear:
        plain = good_record["pairs"][0] | {"rate_mg_dl_min": None}
        pairs = [
            plain
            | {"elapsed_min": every_min * number, "reference": float(r), "sensor": None if s is None else float(s)}
            | ({"sensor_mark": "below"} if s is None else {})
            | {name: values[number] for name, values in columns.items()}
            for number, (r, s) in enumerate(zip(reference, sensor, strict=True))
        ]
        record = record_from(good_record | {"pairs": pairs, "calibrated": True})
        return Wear(columns_from(record), record)

    return make
