"""Exports that travel to the server to be read: held by the page between its rounds, never by the server.

Each round sends the files along, packed into the form, with what has been told so far; the answer is the next page.
"""

import base64
import binascii
import json
import re
import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from django.conf import settings
from django.http import HttpRequest, QueryDict
from django.utils.translation import gettext as _

from server.core.errors import Fault, Invalid
from server.wears.previews import MOST_FILES, File
from server.web.saying import said

FREE_TIMES: Final = ("inserted", "ended")
OF_A_MAPPING: Final = ("kind", "glucose_unit", "date_order", "time_zone")
ASKED_LATER: Final = ("worn_min",)  # where it is not blocking: the form about the wear asks it
Content = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Held:
    """One file as the page holds it: its bytes packed, how it is read so far, and its first rows."""

    place: int
    name: str = field(repr=False)
    packed: str = field(repr=False)
    mapping: Content | None = None
    preview: Sequence[Sequence[str]] = field(default=(), repr=False)
    sheet: str = field(default="", repr=False)

    @property
    def file(self) -> File:
        return File(_unpacked(self.packed), self.name)

    @property
    def mapping_json(self) -> str:
        return json.dumps(self.mapping) if self.mapping else ""

    @property
    def preview_json(self) -> str:
        return json.dumps([list(row) for row in self.preview])

    @property
    def columns(self) -> list[Content]:
        """Each column with its head, its first cells and what it is read as."""
        if not self.mapping or not self.preview:
            return []
        head, *rows = self.preview
        return [
            {
                "number": place,
                "head": head[place] if place < len(head) else "",
                "cells": [row[place] for row in rows[:3] if place < len(row)],
                "role": role,
            }
            for place, role in enumerate(self.mapping["roles"])
        ]


@dataclass(frozen=True, slots=True)
class Round:
    """What one sending of the form says: the files, and the answers so far."""

    files: tuple[Held, ...]
    answers: Content
    calibrated: bool = False

    @property
    def told(self) -> bytes:
        exports = [{"mapping": held.mapping, "sheet": held.sheet or None} for held in self.files]
        answers = self.answers | ({"calibrated": True} if self.calibrated else {})
        return json.dumps({"exports": exports, "answers": answers}).encode()

    @property
    def answers_json(self) -> str:
        return json.dumps(self.answers)


def read_round(request: HttpRequest) -> Round:
    """What was sent: new files begin anew, else those that the page held with the corrections beside them."""
    sent = request.POST
    new = request.FILES.getlist("file")
    held = list(_held(sent))
    if new and "add" not in sent:
        held = []
    files = [*held, *(_packed(len(held) + n, part.name or "", part.read()) for n, part in enumerate(new))]
    if not 1 <= len(files) <= MOST_FILES:
        message = _("Choose one to four files: the sensor's export and the meter's, or one that holds both.")
        raise Invalid(faults=[Fault(pointer="#/file", message=message)])
    return Round(tuple(files), _answers(sent), "calibrated" in sent)


def _packed(place: int, name: str, data: bytes) -> Held:
    return Held(place, name, base64.b64encode(zlib.compress(data)).decode())


def _unpacked(packed: str) -> bytes:
    """The bytes of a file; a form that was tampered with is refused, and none grows beyond what may be sent."""
    try:
        opener = zlib.decompressobj()
        data = opener.decompress(base64.b64decode(packed, validate=True), settings.LARGEST_BODY_BYTES)
    except (binascii.Error, zlib.error, ValueError):
        raise Invalid(_("The files did not come back whole. Choose them again.")) from None
    if opener.unconsumed_tail:
        raise Invalid(_("The files are larger than can be read here. Send one at a time."))
    return data


def _held(sent: QueryDict) -> Iterator[Held]:
    for place in range(MOST_FILES):
        if packed := sent.get(f"packed-{place}"):
            mapping = _json(sent.get(f"mapping-{place}", ""), None)
            yield Held(
                place=place,
                name=sent.get(f"name-{place}", ""),
                packed=packed,
                mapping=_corrected(mapping, place, sent) if _is_mapping(mapping) else None,
                preview=_json(sent.get(f"preview-{place}", ""), []),
                sheet=sent.get(f"sheet-{place}", ""),
            )


def _is_mapping(found: Any) -> bool:
    return isinstance(found, dict) and isinstance(found.get("roles"), list)


def _corrected(mapping: Content, place: int, sent: QueryDict) -> Content:
    roles = [sent.get(f"role-{place}-{column}", role) for column, role in enumerate(mapping["roles"])]
    changed = {name: sent[f"{name}-{place}"] for name in OF_A_MAPPING if sent.get(f"{name}-{place}")}
    return mapping | {"roles": roles, "kind": _kind(roles, mapping.get("kind", ""))} | changed


def _kind(roles: Sequence[str], kind: str) -> str:
    """What a table holds by its roles, where they settle it."""
    if kind == "typed" or ("sensor" in roles) == ("reference" in roles):
        return kind
    return "sensor" if "sensor" in roles else "meter"


def _answers(sent: QueryDict) -> Content:
    """Answers of earlier rounds, and those of this one over them."""
    answers: Content = _json(sent.get("answers", ""), {})
    for name in FREE_TIMES:
        if typed := (sent.get(f"{name}_other") or sent.get(name)):
            answers |= _times(name, typed)
    for name in ("prompt", "glucose_unit"):
        if sent.get(name):
            answers[name] = sent[name]
    if sent.get("apply_offset") in ("yes", "no"):
        answers["apply_offset"] = sent["apply_offset"] == "yes"
    if (minutes := sent.get("worn_min", "")).isdecimal():
        answers["worn_min"] = int(minutes[:9])
    return answers


def _times(name: str, typed: str) -> Content:
    """One time; of a table with several wears also further insertions, one after the other."""
    first, *further = [time for time in re.split(r"[,;\s]+(?=\d{4}-)", typed.strip()) if time]
    return {name: first} | ({"further_inserted": further} if name == "inserted" and further else {})


def _json(text: str, otherwise: Any) -> Any:
    """What the page held; of a form that was tampered with, nothing."""
    try:
        found = json.loads(text) if text else otherwise
    except (ValueError, RecursionError):
        return otherwise
    return found if otherwise is None or isinstance(found, type(otherwise)) else otherwise


def as_read(sent: Round, preview: Mapping[str, Any]) -> tuple[Held, ...]:
    """The files with the mappings that the preview read them with; first rows stay once a mapping is confirmed."""
    return tuple(
        Held(
            place=held.place,
            name=held.name,
            packed=held.packed,
            mapping=read and dict(read["mapping"]),
            preview=(read and read["preview"]) or held.preview,
            sheet=held.sheet,
        )
        for held, read in zip(sent.files, preview["exports"], strict=True)
    )


@dataclass(frozen=True, slots=True)
class Asked:
    """One question as the page puts it."""

    name: str
    text: str
    code: str
    options: tuple[tuple[str, str], ...]
    lines: tuple[int, ...]
    blocking: bool
    file: str


def questions(preview: Mapping[str, Any], files: Sequence[Held]) -> list[Asked]:
    words = _words()
    return [
        Asked(
            name=one["code"]
            if one["export"] is None or one["code"] in FREE_TIMES
            else f"{one['code']}-{one['export']}",
            text=said(one["text"]),
            code=one["code"],
            options=tuple((option, words.get(option, option)) for option in one["options"]),
            lines=tuple(one["lines"]),
            blocking=one["blocking"],
            file="" if one["export"] is None else files[one["export"]].name,
        )
        for one in preview["questions"]
        if one["blocking"] or one["code"] not in ASKED_LATER
    ]


def _words() -> dict[str, str]:
    return {
        "sensor": _("the sensor's readings"),
        "meter": _("fingersticks"),
        "day_first": _("day before month"),
        "month_first": _("month before day"),
        "yes": _("yes"),
        "no": _("no"),
        "scheduled": _("at planned times"),
        "doubt": _("because the reading was doubted"),
        "calibration": _("to calibrate the sensor"),
        "other": _("for different reasons, or not known"),
    }


def roles() -> list[tuple[str, str]]:
    """What a column may be."""
    return [
        ("moment", _("date and time")),
        ("date", _("date")),
        ("time_of_day", _("time of day")),
        ("elapsed", _("time since insertion")),
        ("sensor", _("sensor reading")),
        ("reference", _("fingerstick")),
        ("glucose", _("reading")),
        ("replicate", _("second strip")),
        ("prompt", _("why the fingerstick was taken")),
        ("wear", _("which wear it belongs to")),
        ("inserted", _("when the sensor was inserted")),
        ("ended", _("when the wear ended")),
        ("site", _("site")),
        ("instrument", _("sensor or fingerstick")),
        ("ignored", _("not read")),
    ]
