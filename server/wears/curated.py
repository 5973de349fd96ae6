"""A wear as a moderator sees it: one at a time, without its owner, and nothing finer than a whole day."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final
from uuid import UUID

import numpy as np

from pooling.checks import Finding, find
from pooling.checks.misfit import Expected, expected, misfit, points
from pooling.columns import PairColumns
from pooling.record import from_header
from pooling.report import headline
from pooling.units import MG_DL
from pooling.vocabulary import MARKS
from server.wears.copies import GIVEN_TWICE
from server.wears.models import Wear
from server.wears.plans import told_again
from server.wears.selectors import MINUTES_A_DAY, columns_of
from server.wears.transitions import State

AGREEMENT_SHOWN: Final = ("mard_pct", "relative_bias_pct", "within_15_15_pct", "within_20_20_pct")
READING_STEP: Final = {MG_DL: 10.0}
STEP_MMOL_L: Final = 0.5


@dataclass(frozen=True, slots=True, repr=False)
class SeenPair:
    """A pair as moderators of larger groups see it: its day, and both readings to the nearest step."""

    day: int
    reference: float
    sensor: float | None
    sensor_mark: str | None


@dataclass(frozen=True, slots=True, repr=False)
class CuratedWear:
    wear_id: UUID
    state: str
    appealed: bool
    sensor_model: str
    site: str
    worn_days: int
    end_reason: str
    meter_class: str
    assignment: str
    glucose_unit: str
    n_pairs: int
    n_pairs_by_day: dict[int, int]
    points: int
    findings: tuple[Finding, ...]
    agreement: dict[str, Any]
    expected: Expected | None
    pairs: tuple[SeenPair, ...] | None


def curated(wear: Wear, *, model: Mapping[str, Any], with_pairs: bool) -> CuratedWear:
    """What stands in the record that moderators may see; `model` is the block of the group's last edition."""
    header, columns = wear.header, columns_of(wear)
    figures = {} if columns is None else headline(columns)
    by_day = Counter() if columns is None else Counter(int(day) + 1 for day in columns.elapsed_min // MINUTES_A_DAY)
    beside = _beside(wear, columns, model)
    seen = () if columns is None else find(columns, from_header(header))
    found = (*seen, *told_again(wear.findings), *misfit(beside))
    return CuratedWear(
        wear_id=wear.id,
        # Of a wear that its owner appeals about it is not told whether it was counted.
        state=State.QUEUED if wear.appealed else wear.state,
        appealed=wear.appealed,
        sensor_model=header["sensor_model"],
        site=header["site"],
        worn_days=header["worn_min"] // MINUTES_A_DAY,
        end_reason=header["end_reason"],
        meter_class=header["meter_class"],
        assignment=header["assignment"],
        glucose_unit=header["glucose_unit"],
        n_pairs=sum(by_day.values()),
        n_pairs_by_day=dict(sorted(by_day.items())),
        points=points([(one.code, one.severity) for one in found], given_twice=bool(wear.copied)),
        findings=(*found, *((GIVEN_TWICE,) if wear.copied else ())),
        agreement={name: figures[name] for name in AGREEMENT_SHOWN if name in figures},
        expected=beside,
        pairs=tuple(_seen(columns)) if with_pairs and columns is not None else None,
    )


def _beside(wear: Wear, columns: PairColumns | None, model: Mapping[str, Any]) -> Expected | None:
    if columns is None or not model:
        return None
    return expected(columns, model, site=wear.header["site"], sensor_model=wear.header["sensor_model"])


def is_unlike(wear: Wear, model: Mapping[str, Any]) -> bool:
    """Whether a wear lies far from what its group's last edition lets one expect."""
    return bool(model) and bool(misfit(_beside(wear, columns_of(wear), model)))


def _seen(columns: PairColumns) -> list[SeenPair]:
    """The pairs of each day by their rounded values, so that their order tells no time of day."""
    step = READING_STEP.get(columns.glucose_unit, STEP_MMOL_L)
    days = columns.elapsed_min // MINUTES_A_DAY + 1
    reference, sensor = (
        np.round(hundredths / 100 / step) * step
        for hundredths in (columns.reference_hundredths, columns.sensor_hundredths)
    )
    rows = zip(days.tolist(), reference.tolist(), sensor.tolist(), columns.mark.tolist(), strict=True)
    return [
        SeenPair(day, fingerstick, None if mark else shown, (None, *MARKS)[mark])
        for day, fingerstick, shown, mark in sorted(rows)
    ]
