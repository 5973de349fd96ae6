"""Pairs typed for a wear that is to be kept: each with its day and, from the clock, its minutes since insertion.

Times of day are read for one thing: how long after the insertion a pair was taken. They are forgotten with the answer.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from django.utils.translation import gettext as _

from server.wears.typed import faults_of_pairs
from server.web.drafts import MINUTES_A_DAY, Content, Draft
from server.web.lines import Lines, Row
from server.web.typed import sorted_out

LONGEST_DAYS: Final = 30
TIME: Final = re.compile(r"([01]?\d|2[0-3])[:.hH]?([0-5]\d)")


@dataclass(frozen=True)
class Form(Lines):
    COLUMNS = ("day", "time", "reference", "sensor", "sensor_mark", "prompt")
    BESIDE = ("put_on",)
    MOST = 200

    put_on: str = ""
    faults: Mapping[str, str] = field(default_factory=dict)


def drafted(form: Form) -> tuple[Form, Draft | None]:
    """A draft of what was typed; without one, the form with everything that has to be put right."""
    put_on = minute_of_day(form.put_on)
    faults = {} if put_on is not None else {"put_on": _("Type the time at which it was put on, such as 08:30.")}
    read = [(row, *_pair(row, day, put_on or 0)) for row, day in form.with_days()]
    told = [(row, pair) for row, pair, _wrong in read if pair]
    pairs = [pair for _row, pair in told]
    beside, above = sorted_out(faults_of_pairs(pairs, glucose_unit=form.unit), [row for row, _pair in told])
    faults |= {f"pairs-{number}": fault for number, fault in enumerate(above)}
    rows = tuple(replace(row, faults=wrong or beside.get(row.number, {})) for row, _pair, wrong in read)
    filled = replace(form, rows=rows, faults=faults)
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
    reference, sensor, unreadable = row.readings()
    wrong |= unreadable
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
