"""The own report of pairs that somebody typed from two displays. Nothing is stored, and nobody need be signed in."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from pooling.columns import columns_from
from pooling.errors import RecordInvalid
from pooling.faults import rule_faults
from pooling.record import FORMAT, WearRecord, record_from
from pooling.report import LicensedSite, wear_report
from server.core.errors import Fault, Invalid
from server.core.models import SensorModel
from server.wears.records import as_told, faults_of
from server.wears.rendering import worded

MINUTES_A_DAY: Final = 24 * 60
LONGEST_WEAR_DAYS: Final = 30
NOT_NAMED: Final = "not-named"
NEED_TIMES: Final = frozenset({"impossible_rates", "repeated_pairs"})
"""Findings that look at the minutes between pairs, of which nothing is known here."""


@dataclass(frozen=True, slots=True)
class TypedPair:
    """What stood on two displays on one day of the wear; the day of insertion is day 1."""

    day: int
    reference: float
    sensor: float | None
    sensor_mark: str | None
    prompt: str


def report_of_typed(
    pairs: Sequence[TypedPair],
    *,
    glucose_unit: str,
    site: str,
    sensor_model: str | None = None,
    ages: str | None = None,
) -> dict[str, Any]:
    """What a wear says by these pairs alone, with its sentences and its table of measures.

    Faults point into the record that the pairs would make. Which hour of a day a pair is from is not asked; it is set
    at the day's beginning.
    """
    record = record_of_typed(pairs, glucose_unit=glucose_unit, site=site, sensor_model=sensor_model)
    report = wear_report(
        columns_from(record), record, unit=glucose_unit, licensed=_licensed_sites(sensor_model), ages=ages
    )
    findings = [finding for finding in report["findings"] if finding["code"] not in NEED_TIMES]
    return worded(report | {"findings": findings}, glucose_unit)


def record_of_typed(
    pairs: Sequence[TypedPair], *, glucose_unit: str, site: str, sensor_model: str | None = None
) -> WearRecord:
    """The record that the pairs would make, or a refusal with every fault in it."""
    content = {
        "format": FORMAT,
        "glucose_unit": glucose_unit,
        "sensor_model": sensor_model or NOT_NAMED,
        "site": site,
        "worn_min": max((pair.day for pair in pairs), default=1) * MINUTES_A_DAY,
        "calibrated": any(pair.prompt == "calibration" for pair in pairs),
        # Neither is asked here, and neither changes a word of the report that is shown.
        "end_reason": "unknown",
        "assignment": "chosen",
        "pairs": [_pair(pair) for pair in pairs],
    }
    try:
        return record_from(content)
    except RecordInvalid as error:
        raise Invalid("Some of it cannot be read as pairs.", faults=faults_of(error)) from None


def faults_of_pairs(pairs: Sequence[Mapping[str, Any]], *, glucose_unit: str) -> list[Fault]:
    """What a record with these pairs would be refused for, whatever else is told of the wear."""
    return as_told(rule_faults({"glucose_unit": glucose_unit, "pairs": list(pairs)}))


def _pair(pair: TypedPair) -> Mapping[str, Any]:
    return {
        "elapsed_min": (pair.day - 1) * MINUTES_A_DAY,
        "reference": pair.reference,
        "sensor": pair.sensor,
        "sensor_mark": pair.sensor_mark,
        "prompt": pair.prompt,
        "source": "display",
    }


def _licensed_sites(sensor_model: str | None) -> tuple[LicensedSite, ...] | None:
    found = SensorModel.objects.filter(slug=sensor_model).first() if sensor_model else None
    return None if found is None else tuple(LicensedSite(**each) for each in found.licensed_sites)
