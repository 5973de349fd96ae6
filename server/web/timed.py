"""Pairs typed for a wear that is to be kept: each with its day and, from the clock, its minutes since insertion.

Times of day are read for one thing: how long after the insertion a pair was taken. They are forgotten with the answer.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from django.utils.translation import gettext as _

from server.core.glucose import UNITS
from server.web.drafts import MINUTES_A_DAY, Content, Draft
from server.web.typed import Row, number

FIRST_ROWS: Final = 10
MORE_ROWS: Final = 10
MOST_ROWS: Final = 200
LONGEST_TEXT: Final = 40
LONGEST_DAYS: Final = 30
COLUMNS: Final = ("day", "time", "reference", "sensor", "sensor_mark", "prompt")
EMPTY: Final = dict.fromkeys(COLUMNS, "")
TIME: Final = re.compile(r"([01]?\d|2[0-3])[:.hH]?([0-5]\d)")


@dataclass(frozen=True, slots=True)
class Form:
    """The page as it was sent, or as it is before anything was typed."""

    unit: str
    rows: tuple[Row, ...]
    put_on: str = ""
    faults: Mapping[str, str] = field(default_factory=dict)

    @property
    def n_faults(self) -> int:
        return len(self.faults) + sum(len(row.faults) for row in self.rows)

    @property
    def with_room(self) -> "Form":
        n_rows = min(len(self.rows) + MORE_ROWS, MOST_ROWS)
        return replace(self, rows=(*self.rows, *(Row(n + 1, EMPTY) for n in range(len(self.rows), n_rows))))


def empty_form(unit: str) -> Form:
    return Form(unit=unit, rows=tuple(Row(n + 1, EMPTY) for n in range(FIRST_ROWS)))


def read_form(sent: Mapping[str, str], *, unit: str) -> Form:
    asked = sent.get("rows", "")
    n_rows = min(int(asked), MOST_ROWS) if asked.isdecimal() else FIRST_ROWS
    named = sent.get("unit", "")
    rows = tuple(Row(n, {name: _told(sent, f"{name}-{n}") for name in COLUMNS}) for n in range(1, n_rows + 1))
    return Form(unit=named if named in UNITS else unit, rows=rows, put_on=_told(sent, "put_on"))


def _told(sent: Mapping[str, str], name: str) -> str:
    return sent.get(name, "").strip()[:LONGEST_TEXT]


def drafted(form: Form) -> tuple[Form, Draft | None]:
    """A draft of what was typed; without one, the form with everything that has to be put right."""
    put_on = minute_of_day(form.put_on)
    faults = {} if put_on is not None else {"put_on": _("Type the time at which it was put on, such as 08:30.")}
    rows, pairs = [], []
    for row, day in zip(form.rows, _days(form.rows), strict=True):
        pair, wrong = _pair(row, day, put_on or 0)
        rows.append(replace(row, faults=wrong))
        if pair:
            pairs.append(pair)
    filled = replace(form, rows=tuple(rows), faults=faults)
    if filled.n_faults:
        return filled, None
    if not pairs:
        return replace(
            filled, faults={"rows": _("Type at least one pair, or go back and say that there are none.")}
        ), None
    return filled, Draft("", {"glucose_unit": form.unit, "pairs": sorted(pairs, key=lambda one: one["elapsed_min"])})


def minute_of_day(typed: str) -> int | None:
    found = TIME.fullmatch(typed)
    return None if found is None else int(found[1]) * 60 + int(found[2])


def _days(rows: tuple[Row, ...]) -> Iterator[str]:
    """The day of each line; one that was left open is the day of the line above it."""
    day = "1"
    for row in rows:
        day = row.typed["day"] or day
        yield day


def _pair(row: Row, day: str, put_on_min: int) -> tuple[Content | None, dict[str, str]]:
    if row.blank:
        return None, {}
    wrong = {}
    whole_day = int(day) if day.isdecimal() and 1 <= int(day) <= LONGEST_DAYS + 1 else 0
    if not whole_day:
        wrong["day"] = _("A whole number; the day it was put on is day 1.")
    time_min = minute_of_day(row.typed["time"])
    if time_min is None:
        wrong["time"] = _("The time of day, such as 14:05.")
    elapsed_min = (whole_day - 1) * MINUTES_A_DAY + (time_min or 0) - put_on_min
    if not wrong and elapsed_min < 0:
        wrong["time"] = _("This lies before it was put on.")
    reference, sensor = number(row.typed["reference"]), number(row.typed["sensor"])
    if reference is None:
        wrong["reference"] = _("Type the number on the meter's display.")
    if sensor is None and (row.typed["sensor"] or not row.typed["sensor_mark"]):
        wrong["sensor"] = _("Type the number on the sensor's display, or choose that it showed none.")
    if sensor is not None and row.typed["sensor_mark"]:
        wrong["sensor_mark"] = _("It shows a number or none, not both.")
    if wrong:
        return None, wrong
    return {
        "elapsed_min": elapsed_min,
        "reference": reference,
        "sensor": sensor,
        "sensor_mark": row.typed["sensor_mark"] or None,
        "prompt": row.typed["prompt"] or "scheduled",
        "source": "display",
    }, {}
