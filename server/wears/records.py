"""Wear records as they come from outside: read, or refused with every fault in them."""

from collections.abc import Collection, Iterable
from typing import Final

from pooling.errors import Fault as RecordFault
from pooling.errors import RecordInvalid
from pooling.record import MAX_BYTES, WearRecord, parse_record
from server.core.errors import Fault, Invalid, TooLarge
from server.core.selectors import sensor_model_slugs

NOTHING_KEPT: Final = "The record has faults; nothing of it was kept."


def read_record(raw: bytes, *, models: Collection[str] | None = None) -> WearRecord:
    """The record in these bytes, about a sensor model that new wears may name; `models` where these are known."""
    if len(raw) > MAX_BYTES:
        raise TooLarge(f"A wear record has at most {MAX_BYTES:,} bytes. Send one wear at a time.")
    try:
        record = parse_record(raw)
    except RecordInvalid as error:
        raise Invalid(NOTHING_KEPT, faults=faults_of(error)) from None
    if unlisted := faults_of_model(record.sensor_model, models):
        raise Invalid(NOTHING_KEPT, faults=unlisted)
    return record


def faults_of(error: RecordInvalid) -> list[Fault]:
    return as_told(error.faults)


def as_told(faults: Iterable[RecordFault]) -> list[Fault]:
    return [Fault(pointer=each.pointer, code=each.code, message=each.message) for each in faults]


def faults_of_model(sensor_model: str, models: Collection[str] | None = None) -> list[Fault]:
    if sensor_model in (sensor_model_slugs() if models is None else models):
        return []
    message = "This sensor model is not in the catalogue. Choose one of GET /api/v1/sensor-models/."
    return [Fault(pointer="#/sensor_model", code="unknown_sensor_model", message=message)]
