"""The wear record, format `wear-record/1`: one sensor on one site, from insertion to end.

The Structs below are the one definition. Validation, the published JSON Schema and the page that says who sees which
field are all read from them; rules that span several fields live in `pooling.faults` and are listed in the schema.
"""

import copy
from functools import cache
from typing import Annotated, Any, Literal

import msgspec
from msgspec import Meta

from pooling.errors import RecordInvalid
from pooling.faults import (
    PLAUSIBLE,
    RULES,
    rule_faults,
    schema_faults,
    too_large,
    type_fault,
    unreadable,
)
from pooling.quiet import Quiet
from pooling.vocabulary import (
    Assignment,
    EndReason,
    EventKind,
    Exposed,
    GlucoseUnit,
    Mark,
    MeterClass,
    Pinch,
    Prepared,
    Prompt,
    RatedBy,
    Side,
    Site,
    SkinSign,
    Source,
)

FORMAT = "wear-record/1"
MAX_BYTES = 1_000_000
MAX_PAIRS = 2_000
LONGEST_WEAR_MIN = 43_200  # thirty days
WIDEST_GAP_MIN = 15

_OWNER = "the member who uploaded it; nobody else"
_CURATED = (
    "the member who uploaded it; moderators of the group it is given to, without a name; "
    "the pool only inside sums over at least k people"
)
_UNTIL_ERASED = "until the member erases the wear, takes it back after it was counted, or closes the account"
_PAIRS_RETENTION = "12 whole months after upload; always erased with the wear"


def _about(
    purpose: str, description: str, *, reader: str = _CURATED, retention: str = _UNTIL_ERASED, **more: Any
) -> Meta:
    """What the schema says of one property: its meaning, why it is asked, who sees it, how long it stays."""
    declared = {"x-purpose": purpose, "x-reader": reader, "x-retention": retention}
    return Meta(description=description, extra_json_schema=declared | more)


def _of_pair(purpose: str, description: str) -> Meta:
    return _about(purpose, description, retention=_PAIRS_RETENTION)


_Minute = Annotated[int, Meta(ge=0, le=LONGEST_WEAR_MIN)]
_Reading = Annotated[float, Meta(gt=0, le=600)]
_Rating = Annotated[int, Meta(ge=0, le=10)]
_ONCE = {"uniqueItems": True}


class Conditions(Quiet, frozen=True, forbid_unknown_fields=True):
    """What was done to the spot and what it went through. Null means not asked."""

    prepared: Annotated[
        tuple[Prepared, ...],
        _about("whether preparing the skin keeps a sensor on", "what was done first", **_ONCE),
    ] = ()
    pinch: Annotated[
        Pinch | None, _about("fat thickness may decide how a site reads", "thickness of a pinch of skin at the spot")
    ] = None
    exposed: Annotated[
        tuple[Exposed, ...], _about("to explain sensors that came off", "what the spot went through", **_ONCE)
    ] = ()
    near_insulin_site: Annotated[
        bool | None,
        _about("insulin close by may disturb a reading", "true if closer than the device's instructions allow"),
    ] = None
    spot_rested_days: Annotated[
        Annotated[int, Meta(ge=0, le=3650)] | None,
        _about("a spot used again too soon may react", "days since a sensor last sat on this spot"),
    ] = None
    interferent: Annotated[
        bool | None,
        _about("some substances disturb a sensor", "true if a substance that the instructions warn of was taken"),
    ] = None


class Event(Quiet, frozen=True, forbid_unknown_fields=True):
    """Something that happened to the sensor during the wear."""

    kind: Annotated[EventKind, _about("to explain odd readings and early ends", "what happened")]
    elapsed_min: Annotated[_Minute, _about("to set it beside the readings", "minutes since insertion")]


class Skin(Quiet, frozen=True, forbid_unknown_fields=True):
    """How the skin took it, on the wearer's own scale; no clinical grading."""

    grade: Annotated[
        Annotated[int, Meta(ge=0, le=4)],
        _about(
            "to learn how sites take a sensor",
            "0 nothing; 1 mark or faint redness gone within half an hour; 2 redness or itch for hours up to a day; "
            "3 raised, blistered, weeping, painful or treated; 4 taken off early because of the skin",
        ),
    ]
    signs: Annotated[tuple[SkinSign, ...], _about("to say what kind of reaction it was", "what was seen", **_ONCE)] = ()


class Ratings(Quiet, frozen=True, forbid_unknown_fields=True):
    """How it was to live with, 0 worst to 10 best. There is no total. Null means not asked."""

    rated_by: Annotated[RatedBy, _about("a carer's rating is another thing than one's own", "who rated")]
    ease: Annotated[_Rating | None, _about("to compare sites", "how easy it was to place")] = None
    comfort: Annotated[_Rating | None, _about("to compare sites", "how comfortable it was to wear")] = None
    discretion: Annotated[_Rating | None, _about("to compare sites", "how little it showed")] = None


class Pair(Quiet, frozen=True, forbid_unknown_fields=True):
    """One fingerstick and the sensor reading beside it."""

    elapsed_min: Annotated[
        _Minute, _of_pair("accuracy changes over a wear", "minutes since insertion; kept rounded down to five")
    ]
    reference: Annotated[_Reading, _of_pair("what the sensor is held against", "fingerstick, in glucose_unit")]
    prompt: Annotated[Prompt, _of_pair("people prick when in doubt, and that biases", "why the fingerstick was taken")]
    source: Annotated[Source, _of_pair("a typed reading may be rounded or late", "where the sensor reading comes from")]
    sensor: Annotated[
        _Reading | None,
        _of_pair("what is judged", "sensor reading, in glucose_unit; null when the sensor showed no number"),
    ] = None
    sensor_mark: Annotated[
        Mark | None,
        _of_pair("a low seen without a number still counts", "below or above its range; null with a number"),
    ] = None
    rate_mg_dl_min: Annotated[
        Annotated[float, Meta(ge=-20, le=20)] | None,
        _of_pair("readings lag when glucose moves fast", "rate of change at the fingerstick, mg/dL a minute"),
    ] = None
    gap_min: Annotated[
        Annotated[int, Meta(ge=0, le=WIDEST_GAP_MIN)] | None,
        _of_pair("wide gaps add error that is not the site's", "minutes between fingerstick and sensor reading"),
    ] = None
    replicate: Annotated[
        _Reading | None,
        _of_pair("to measure the meter's own noise", "a second strip within two minutes, in glucose_unit"),
    ] = None


class WearRecord(Quiet, frozen=True, forbid_unknown_fields=True):
    """One wear, as it leaves the member's device. No name, no date, no clock time, no free text."""

    format: Annotated[Literal["wear-record/1"], _about("to read it rightly", "name and version of this format")]
    glucose_unit: Annotated[GlucoseUnit, _about("to read the numbers rightly", "unit of every reading in this record")]
    sensor_model: Annotated[
        Annotated[str, Meta(pattern="^[a-z0-9]+(-[a-z0-9]+)*$", max_length=40)],
        _about("sensors differ", "entry of the server's catalogue of sensor models"),
    ]
    site: Annotated[Site, _about("what the pool compares", "where the sensor sat; a leaf of the site tree")]
    worn_min: Annotated[
        Annotated[int, Meta(ge=1, le=LONGEST_WEAR_MIN)],
        _about("how long sensors stay on, and weights by day worn", "minutes from insertion to the end of the wear"),
    ]
    end_reason: Annotated[EndReason, _about("to tell a fall from a full term", "why the wear ended")]
    assignment: Annotated[
        Assignment, _about("people choose sites that suit them, and that biases", "how the site was picked")
    ]
    calibrated: Annotated[bool, _about("a calibrated sensor leans on its fingersticks", "true if it was calibrated")]
    pairs: Annotated[
        Annotated[tuple[Pair, ...], Meta(max_length=MAX_PAIRS)],
        _of_pair("accuracy", "may be empty: a sensor that fell off early still counts for days on skin and for skin"),
    ]
    side: Annotated[
        Side | None, _about("the member's own report", "side of the body; null if not asked", reader=_OWNER)
    ] = None
    meter_class: Annotated[
        MeterClass, _about("meters have errors of their own", "accuracy that the meter's leaflet states")
    ] = "unknown"
    plan: Annotated[
        Annotated[str, Meta(pattern="^[A-Za-z0-9_-]{4,64}$")] | None,
        _about("shows that the site was fixed before the start", "token of a plan registered before the start"),
    ] = None
    conditions: Annotated[
        Conditions, _about("what else may explain a result", "what was done to the spot and what it went through")
    ] = Conditions()
    events: Annotated[
        Annotated[tuple[Event, ...], Meta(max_length=200)],
        _about("to explain odd readings and early ends", "what happened during the wear"),
    ] = ()
    skin: Annotated[Skin | None, _about("how the skin takes it", "null if not asked")] = None
    ratings: Annotated[Ratings | None, _about("how it is to live with", "null if not asked")] = None


def parse_record(raw: bytes) -> WearRecord:
    """Read and check one wear record.

    Parameters
    ----------
    raw : bytes
        UTF-8 JSON, at most `MAX_BYTES` long.

    Returns
    -------
    WearRecord

    Raises
    ------
    RecordInvalid
        With every fault that could be found, in one go. Each has a JSON pointer, a code, and a message that says what
        to do; no message repeats a reading.
    """
    if len(raw) > MAX_BYTES:
        raise RecordInvalid((too_large(MAX_BYTES),))
    try:
        content = msgspec.json.decode(raw)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        raise RecordInvalid((unreadable(),)) from None
    return record_from(content)


def record_from(content: Any) -> WearRecord:
    """As `parse_record`, for content that is already plain Python (dicts, lists, numbers)."""
    shape: tuple = ()
    try:
        record = msgspec.convert(content, WearRecord)
    except msgspec.ValidationError as error:
        record, shape = None, schema_faults(content, record_schema()) or (type_fault(str(error)),)
    sound = record is not None and _pairs_are_sound(record)
    faults = (*shape, *rule_faults(content, pairs_are_sound=sound))
    if faults or record is None:
        raise RecordInvalid(faults)
    return record


def _pairs_are_sound(record: WearRecord) -> bool:
    """Whether no rule of `pooling.faults` has a word against a pair; it has none in most records."""
    low, high = PLAUSIBLE[record.glucose_unit]
    for pair in record.pairs:
        sensor, replicate = pair.sensor, pair.replicate
        if not (
            pair.elapsed_min <= record.worn_min
            and low <= pair.reference <= high
            and (sensor is None) != (pair.sensor_mark is None)
            and (sensor is None or low <= sensor <= high)
            and (replicate is None or low <= replicate <= high)
            and (record.calibrated or pair.prompt != "calibration")
        ):
            return False
    return True


def header_of(record: WearRecord) -> dict[str, Any]:
    """Everything but the pairs, as plain Python ready for JSON: what may stay when the readings are erased."""
    header: dict[str, Any] = msgspec.json.decode(msgspec.json.encode(msgspec.structs.replace(record, pairs=())))
    del header["pairs"]
    return header


def from_header(header: dict[str, Any]) -> WearRecord:
    """The record of a wear whose pairs are kept elsewhere, or no longer; its `pairs` is empty."""
    return record_from(header | {"pairs": []})


def record_schema() -> dict[str, Any]:
    """The published JSON Schema (2020-12), read from the types above; a fresh copy at every call."""
    return copy.deepcopy(_schema())


@cache
def _schema() -> dict[str, Any]:
    published = msgspec.json.schema(WearRecord)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "urn:commonwear:wear-record:1",
        "title": "Wear record, version 1",
        "x-rules": [{"code": code, "rule": rule} for code, rule in RULES.items()],
        **published,
    }
