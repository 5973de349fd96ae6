"""What somebody typed into the page of pairs: read leniently, and given back as it was typed."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from django.utils.translation import gettext as _

from server.core.errors import Fault, Invalid
from server.core.selectors import sensor_models
from server.wears.typed import LONGEST_WEAR_DAYS, TypedPair, record_of_typed, report_of_typed
from server.web.lines import Lines, Row
from server.web.saying import said, site_labels

OF_A_PAIR: Final = re.compile(r"#/pairs/(\d+)/(\w+)")
COLUMN_OF: Final = {"elapsed_min": "day"}


@dataclass(frozen=True)
class Form(Lines):
    COLUMNS = ("day", "reference", "sensor", "sensor_mark", "prompt")
    BESIDE = ("site", "sensor_model", "ages")
    MOST = 100

    site: str = ""
    sensor_model: str = ""
    ages: str = ""


def refused(form: Form, why: str) -> Form:
    """The form as it was typed, with one thing to say above it."""
    return replace(form, faults=(why,))


def work_out(form: Form) -> tuple[Form, dict[str, Any] | None]:
    """The own report of what was typed; without one, the form with everything that has to be put right."""
    read = [(row, *_pair(row, day)) for row, day in form.with_days() if not row.blank]
    readable = [(row, pair) for row, pair, wrong in read if not wrong]
    beside, above = _faults(form, readable)
    faults = {row.number: wrong for row, _pair, wrong in read if wrong} | beside
    told = list(_missing(form, bool(read))) or above
    if not faults and not told:
        return form, _report(form, [pair for _row, pair in readable])
    rows = tuple(replace(row, faults=faults.get(row.number, {})) for row in form.rows)
    return replace(form, rows=rows, faults=tuple(told)), None


def _faults(form: Form, read: Sequence[tuple[Row, TypedPair]]) -> tuple[dict[int, dict[str, str]], list[str]]:
    """What the record would be refused for, of the lines that can be read: said together with what cannot be."""
    pairs = [pair for _row, pair in read]
    try:
        record_of_typed(pairs, glucose_unit=form.unit, site=form.site, sensor_model=form.sensor_model or None)
    except Invalid as refusal:
        return sorted_out(refusal.faults, [row for row, _pair in read])
    return {}, []


def _report(form: Form, pairs: Sequence[TypedPair]) -> dict[str, Any]:
    return report_of_typed(
        pairs,
        glucose_unit=form.unit,
        site=form.site,
        sensor_model=form.sensor_model or None,
        ages=form.ages or None,
    )


def choices() -> dict[str, Any]:
    """What may be chosen on the page."""
    return {"sites": site_labels(), "models": [model.slug for model in sensor_models()]}


def _missing(form: Form, has_pairs: bool) -> Iterator[str]:
    if not has_pairs:
        yield _("Type at least one pair: a fingerstick and what the sensor showed beside it.")
    if form.site not in choices()["sites"]:
        yield _("Choose the site on which the sensor sat.")


def _pair(row: Row, day: str) -> tuple[TypedPair, dict[str, str]]:
    wrong = {}
    whole_day = int(day) if day.isdecimal() and 1 <= int(day) <= LONGEST_WEAR_DAYS else 0
    if not whole_day:
        wrong["day"] = _("A whole number from 1 to %(most)s; the day it was put on is day 1.") % {
            "most": LONGEST_WEAR_DAYS
        }
    reference, sensor, unreadable = row.readings()
    pair = TypedPair(
        day=whole_day,
        reference=reference or 0,
        sensor=sensor,
        sensor_mark=row.typed["sensor_mark"] or None,
        prompt=row.typed["prompt"] or "scheduled",
    )
    return pair, wrong | unreadable


def sorted_out(faults: Sequence[Fault], rows: Sequence[Row]) -> tuple[dict[int, dict[str, str]], list[str]]:
    """Faults of the record beside the fields that they come from, and the rest above the form."""
    beside: dict[int, dict[str, str]] = {}
    above = []
    for fault in faults:
        message = said(fault["message"]).removesuffix(".") + "."
        message = message[0].upper() + message[1:]
        place = OF_A_PAIR.fullmatch(fault["pointer"])
        column = COLUMN_OF.get(place[2], place[2]) if place else ""
        if place and column in Form.COLUMNS:
            beside.setdefault(rows[int(place[1])].number, {}).setdefault(column, message)
        else:
            above.append(message)
    return beside, above
