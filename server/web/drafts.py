"""Wears on their way: what pages hold of them between two forms, and what would be stored, in plain words."""

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, TypeGuard

from django.utils.translation import gettext as _

from server.core.errors import Invalid
from server.web.saying import localised, skin_grades, word_for

Content = dict[str, Any]
MOST_DRAFTS: Final = 50
MINUTES_A_DAY: Final = 24 * 60
LONGEST_DAYS: Final = 30
STORED_STEP_MIN: Final = 5


@dataclass(frozen=True, slots=True)
class Draft:
    """A wear as far as it is known, under what its owner called it."""

    label: str = field(repr=False)
    record: Content = field(repr=False)

    @property
    def n_pairs(self) -> int:
        return len(self.record.get("pairs", ()))


def drafts_in(text: str) -> tuple[Draft, ...]:
    """The drafts that a page held; whatever else comes is refused."""
    try:
        found = json.loads(text or "[]")
        drafts = tuple(Draft(str(one.get("label", ""))[:40], dict(one["record"])) for one in found[:MOST_DRAFTS])
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        raise Invalid(_("What the page held did not come back whole. Begin again.")) from None
    if any(not isinstance(draft.record.get("pairs", []), list) for draft in drafts):
        raise Invalid(_("What the page held did not come back whole. Begin again."))
    return drafts


def held(drafts: Sequence[Draft]) -> str:
    """Drafts as a page holds them."""
    return json.dumps([{"label": draft.label, "record": draft.record} for draft in drafts])


def drafts_of(preview: Mapping[str, Any]) -> tuple[Draft, ...]:
    return tuple(Draft(wear["label"], wear["record"]) for wear in preview["wears"])


def minutes_worn(record: Mapping[str, Any]) -> int | None:
    """How long the wear lasted, where the record says it in minutes that a wear can last; a form asks for it else."""
    return minutes if is_minutes(minutes := record.get("worn_min")) and minutes > 0 else None


def is_minutes(value: Any) -> TypeGuard[int]:
    """Whether a value that a page sent back is a number of minutes within a wear."""
    return type(value) is int and 0 <= value <= LONGEST_DAYS * MINUTES_A_DAY


def as_stored(record: Content) -> Content:
    """The record with minutes as coarse as they are kept: whatever is finer does not leave the page."""
    return record | {"pairs": [_coarse(pair) for pair in record["pairs"]]}


def _coarse(pair: Any) -> Any:
    """What is no pair is left as it came, for the check of the record to name it."""
    if not isinstance(pair, dict) or not isinstance(minutes := pair.get("elapsed_min"), int):
        return pair
    return pair | {"elapsed_min": minutes // STORED_STEP_MIN * STORED_STEP_MIN}


def field_names() -> Content:
    """What the pages call the fields that a record has once."""
    return {
        "sensor_model": _("Sensor model"),
        "site": _("Site"),
        "side": _("Side, for your own report alone"),
        "worn_min": _("Worn for"),
        "end_reason": _("How it ended"),
        "assignment": _("How the site was picked"),
        "plan": _("Plan registered before the start"),
        "meter_class": _("Meter"),
        "calibrated": _("Calibrated"),
        "glucose_unit": _("Unit of the readings"),
    }


def told(record: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Everything but the pairs, each with what it is called; what was not asked is not among it."""
    for name, called in field_names().items():
        if (value := record.get(name)) is not None:
            yield called, length(value) if name == "worn_min" else _said(value)
    yield from _conditions(record.get("conditions") or {})
    if events := record.get("events"):
        yield _("What happened"), "; ".join(f"{word_for(one['kind'])}, {moment(one['elapsed_min'])}" for one in events)
    if skin := record.get("skin"):
        grade = skin_grades()[skin["grade"]]
        yield _("Skin"), "; ".join([grade, *(word_for(sign) for sign in skin.get("signs", ()))])
    yield from _ratings(record.get("ratings") or {})


def _said(value: Any) -> str:
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    try:
        return word_for(value)
    except ValueError:
        return str(value)


def _conditions(conditions: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    names = {
        "prepared": _("Done to the spot first"),
        "pinch": _("Pinch of skin"),
        "exposed": _("What it went through"),
        "near_insulin_site": _("Closer to an insulin site than the instructions allow"),
        "spot_rested_days": _("Days since a sensor sat there"),
        "interferent": _("A substance taken that the instructions warn of"),
    }
    for name, called in names.items():
        value = conditions.get(name)
        if value not in (None, [], ()):
            yield called, ", ".join(map(word_for, value)) if isinstance(value, list) else _said(value)


def _ratings(ratings: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    names = {"ease": _("Easy to place"), "comfort": _("Comfortable"), "discretion": _("Showed little")}
    for name, called in names.items():
        if ratings.get(name) is not None:
            yield (
                called,
                _("%(points)d of 10, %(who)s") % {"points": ratings[name], "who": word_for(ratings["rated_by"])},
            )


def length(minutes: int) -> str:
    days, rest = divmod(minutes, MINUTES_A_DAY)
    return _("%(days)d days, %(hours)d h %(minutes)d min") % {"days": days, "hours": rest // 60, "minutes": rest % 60}


def moment(minutes: int) -> str:
    """Where in the wear something lies; the day it was put on is day 1."""
    day, rest = divmod(minutes, MINUTES_A_DAY)
    return _("day %(day)d, after %(hours)d h %(minutes)02d min") % {
        "day": day + 1,
        "hours": rest // 60,
        "minutes": rest % 60,
    }


@dataclass(frozen=True, slots=True)
class PairLine:
    """One pair as the page lists it."""

    at: str
    reference: str
    sensor: str
    prompt: str
    more: str


def pair_lines(record: Mapping[str, Any]) -> list[PairLine]:
    return [
        PairLine(
            at=moment(pair["elapsed_min"]),
            reference=_number(pair["reference"]),
            sensor=word_for(pair["sensor_mark"]) if pair.get("sensor_mark") else _number(pair["sensor"]),
            prompt=word_for(pair["prompt"]),
            more="; ".join(_more(pair)),
        )
        for pair in record["pairs"]
    ]


def _number(value: float) -> str:
    return localised(f"{value:g}")


def _more(pair: Mapping[str, Any]) -> Iterator[str]:
    if pair.get("gap_min") is not None:
        yield _("%(gap)d min apart") % {"gap": pair["gap_min"]}
    if pair.get("rate_mg_dl_min") is not None:
        rate = f"{pair['rate_mg_dl_min']:+z.1f}".replace("-", "\N{MINUS SIGN}")
        yield _("moving %(rate)s mg/dL a minute") % {"rate": localised(rate)}
    if pair.get("replicate") is not None:
        yield _("second strip %(value)s") % {"value": _number(pair["replicate"])}
