"""What somebody typed into the page of pairs: read leniently, and given back as it was typed."""

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

from django.utils.translation import gettext as _

from server.core.errors import Fault, Invalid
from server.core.glucose import UNITS
from server.core.selectors import sensor_models
from server.wears.typed import LONGEST_WEAR_DAYS, TypedPair, record_of_typed, report_of_typed
from server.web.saying import said, site_labels

FIRST_ROWS: Final = 10
MORE_ROWS: Final = 10
MOST_ROWS: Final = 100
LONGEST_TEXT: Final = 40
COLUMNS: Final = ("day", "reference", "sensor", "sensor_mark", "prompt")
OF_A_PAIR: Final = re.compile(r"#/pairs/(\d+)/(\w+)")
COLUMN_OF: Final = {"elapsed_min": "day"}
EMPTY: Final = dict.fromkeys(COLUMNS, "")


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the form, with what is wrong in it."""

    number: int
    typed: Mapping[str, str]
    faults: Mapping[str, str] = field(default_factory=dict)

    @property
    def blank(self) -> bool:
        return not any(self.typed[name] for name in ("reference", "sensor", "sensor_mark"))


@dataclass(frozen=True, slots=True)
class Form:
    """The whole page as it was sent, or as it is before anything was typed."""

    unit: str
    rows: tuple[Row, ...]
    site: str = ""
    sensor_model: str = ""
    ages: str = ""
    faults: tuple[str, ...] = ()

    @property
    def n_faults(self) -> int:
        return len(self.faults) + sum(len(row.faults) for row in self.rows)

    @property
    def with_room(self) -> "Form":
        """The same with more empty lines below."""
        n_rows = min(len(self.rows) + MORE_ROWS, MOST_ROWS)
        return replace(self, rows=(*self.rows, *(Row(n + 1, EMPTY) for n in range(len(self.rows), n_rows))))


def empty_form(unit: str) -> Form:
    return Form(unit=unit, rows=tuple(Row(n + 1, EMPTY) for n in range(FIRST_ROWS)))


def refused(form: Form, why: str) -> Form:
    """The form as it was typed, with one thing to say above it."""
    return replace(form, faults=(why,))


def read_form(sent: Mapping[str, str], *, unit: str) -> Form:
    """The form as sent; `unit` is the reader's own where it names none."""
    asked = sent.get("rows", "")
    n_rows = min(int(asked), MOST_ROWS) if asked.isdecimal() else FIRST_ROWS
    named = _told(sent, "unit")
    return Form(
        unit=named if named in UNITS else unit,
        rows=tuple(Row(n, {name: _told(sent, f"{name}-{n}") for name in COLUMNS}) for n in range(1, n_rows + 1)),
        site=_told(sent, "site"),
        sensor_model=_told(sent, "sensor_model"),
        ages=_told(sent, "ages"),
    )


def _told(sent: Mapping[str, str], name: str) -> str:
    return sent.get(name, "").strip()[:LONGEST_TEXT]


def work_out(form: Form) -> tuple[Form, dict[str, Any] | None]:
    """The own report of what was typed; without one, the form with everything that has to be put right."""
    read = [(row, *_pair(row, day)) for row, day in zip(form.rows, _days(form.rows), strict=True) if not row.blank]
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
        return _sorted_out(refusal.faults, [row for row, _pair in read])
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


def _days(rows: Sequence[Row]) -> Iterator[str]:
    """The day of each line; one that was left open is the day of the line above it."""
    day = "1"
    for row in rows:
        day = row.typed["day"] or day
        yield day


def _pair(row: Row, day: str) -> tuple[TypedPair, dict[str, str]]:
    wrong: dict[str, str] = {}
    whole_day = int(day) if day.isdecimal() and 1 <= int(day) <= LONGEST_WEAR_DAYS else 0
    if not whole_day:
        wrong["day"] = _("A whole number from 1 to %(most)s; the day it was put on is day 1.") % {
            "most": LONGEST_WEAR_DAYS
        }
    reference, sensor = number(row.typed["reference"]), number(row.typed["sensor"])
    if reference is None:
        wrong["reference"] = _("Type the number on the meter's display.")
    if sensor is None and (row.typed["sensor"] or not row.typed["sensor_mark"]):
        wrong["sensor"] = _("Type the number on the sensor's display, or choose that it showed none.")
    pair = TypedPair(
        day=whole_day,
        reference=reference or 0,
        sensor=sensor,
        sensor_mark=row.typed["sensor_mark"] or None,
        prompt=row.typed["prompt"] or "scheduled",
    )
    return pair, wrong


def number(text: str) -> float | None:
    try:
        number = float(text.replace(",", "."))
    except ValueError:
        return None
    return number if math.isfinite(number) else None


def _sorted_out(faults: Sequence[Fault], rows: Sequence[Row]) -> tuple[dict[int, dict[str, str]], list[str]]:
    """Faults of the record beside the fields that they come from, and the rest above the form."""
    beside: dict[int, dict[str, str]] = {}
    above = []
    for fault in faults:
        message = said(fault["message"]).removesuffix(".") + "."
        message = message[0].upper() + message[1:]
        place = OF_A_PAIR.fullmatch(fault["pointer"])
        column = COLUMN_OF.get(place[2], place[2]) if place else ""
        if place and column in COLUMNS:
            beside.setdefault(rows[int(place[1])].number, {}).setdefault(column, message)
        else:
            above.append(message)
    return beside, above
