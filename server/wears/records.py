"""Wear records as they come from outside: read, or refused with every fault in them."""

from collections.abc import Iterable, Iterator, Mapping
from typing import Final

from pooling.errors import Fault as RecordFault
from pooling.errors import RecordInvalid
from pooling.record import MAX_BYTES, WearRecord, parse_record
from server.core.errors import Fault, Invalid, TooLarge
from server.core.selectors import rated_lives

NOTHING_KEPT: Final = "The record has faults; nothing of it was kept."
MINUTES_A_DAY: Final = 24 * 60
SHORT_OF_ITS_LIFE_DAYS: Final = 1
"""A sensor may stop some hours before its last day is full; a wear that ends sooner than that ended for a reason."""


def read_record(raw: bytes, *, lives: Mapping[str, float] | None = None) -> WearRecord:
    """The record in these bytes, about a sensor model that new wears may name; `lives` where these are known."""
    if len(raw) > MAX_BYTES:
        raise TooLarge(f"A wear record has at most {MAX_BYTES:,} bytes. Send one wear at a time.")
    try:
        record = parse_record(raw)
    except RecordInvalid as error:
        raise Invalid(NOTHING_KEPT, faults=faults_of(error)) from None
    if disagreeing := faults_beside_catalogue(record, lives):
        raise Invalid(NOTHING_KEPT, faults=disagreeing)
    return record


def faults_of(error: RecordInvalid) -> list[Fault]:
    return as_told(error.faults)


def as_told(faults: Iterable[RecordFault]) -> list[Fault]:
    return [Fault(pointer=each.pointer, code=each.code, message=each.message) for each in faults]


def faults_beside_catalogue(record: WearRecord, lives: Mapping[str, float] | None = None) -> list[Fault]:
    """What a sound record says that no sensor model of the catalogue can have shown."""
    return [*_beside(record, rated_lives() if lives is None else lives)]


def _beside(record: WearRecord, lives: Mapping[str, float]) -> Iterator[Fault]:
    life_days, worn_days = lives.get(record.sensor_model), record.worn_min / MINUTES_A_DAY
    if life_days is None:
        message = "This sensor model is not in the catalogue. Choose one of GET /api/v1/sensor-models/."
        yield Fault(pointer="#/sensor_model", code="unknown_sensor_model", message=message)
    elif record.end_reason == "completed" and worn_days < life_days - SHORT_OF_ITS_LIFE_DAYS:
        # In the sums it would count as one that stayed on for all its life.
        message = (
            f"This sensor model is rated to last {life_days:g} days, and the wear ended after {worn_days:.1f}. "
            "Say why it ended, or correct how long it was worn."
        )
        yield Fault(pointer="#/end_reason", code="ended_early", message=message)
