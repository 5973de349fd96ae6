"""The calendar file against RFC 5545 as it is written, read by hand and by a library."""

import re
from datetime import date, datetime, time, timedelta

import icalendar
import numpy as np
import pytest

from pooling.planning import make_plan, plan_ics
from tests.pooling.planning.requests import asked

TOKEN = "7f3c9a1e7f3c9a1e7f3c9a1e7f3c9a1e"


@pytest.fixture(scope="module")
def plan():
    return make_plan(asked(), np.random.default_rng(4), rated_life_days=10)


@pytest.fixture(scope="module")
def ics(plan):
    return plan_ics(
        plan,
        token=TOKEN,
        first_day=date(2031, 3, 1),
        wakes_at=time(6, 30),
        stamped_on=date(2031, 2, 10),
        insert_after_waking_min=60,
    )


def test_lines_are_as_the_standard_asks(ics):
    """RFC 5545, 3.1: CRLF, at most 75 octets a line; 3.6: PRODID and VERSION 2.0; 3.6.1: UID, DTSTAMP in UTC."""
    assert ics.endswith(b"\r\n")
    assert b"\n" not in ics.replace(b"\r\n", b"")
    lines = ics.split(b"\r\n")
    assert max(map(len, lines)) <= 75
    assert (lines[0], lines[-2]) == (b"BEGIN:VCALENDAR", b"END:VCALENDAR")
    assert b"VERSION:2.0" in lines
    assert sum(line.startswith(b"PRODID:") for line in lines) == 1
    events = ics.count(b"BEGIN:VEVENT")
    assert events == ics.count(b"UID:") == ics.count(b"DTSTAMP:") == len(set(re.findall(rb"UID:(\S+)", ics)))
    assert all(stamp.endswith(b"Z") for stamp in re.findall(rb"DTSTAMP:(\S+)", ics))


def test_times_float(ics):
    """RFC 5545, 3.3.5, form 1: a local time without TZID and without Z."""
    starts = re.findall(rb"\r\nDTSTART([^\r]*)", ics)
    assert starts
    assert all(re.fullmatch(rb":\d{8}T\d{6}", start) for start in starts)
    assert b"TZID" not in ics


def test_it_says_nothing_about_anybody(ics):
    titles = set(re.findall(rb"SUMMARY:([^\r]*)", ics))
    assert titles == {b"Reminder", b"Next step"}
    for word in (
        b"thigh",
        b"arm",
        b"sensor",
        b"glucose",
        b"finger",
        b"demo",
        TOKEN.encode(),
        b"LOCATION",
        b"ORGANIZER",
    ):
        assert word.lower() not in ics.lower().replace(b"valarm", b"")


def test_a_library_reads_every_event_back(ics, plan):
    events = icalendar.Calendar.from_ical(ics).walk("VEVENT")
    due = [event.decoded("dtstart") for event in events if event["summary"] == "Reminder"]
    first = datetime.fromisoformat("2031-03-01T06:30")
    expected = [
        first + timedelta(days=wear.from_day + prick.day - 2, minutes=prick.after_waking_min)
        for wear in plan.wears
        for prick in wear.pricks
    ]
    assert due == expected
    changes = [event.decoded("dtstart") for event in events if event["summary"] == "Next step"]
    assert changes == [datetime.fromisoformat("2031-03-01T07:30") + timedelta(days=day) for day in (0, 10, 20, 30, 40)]
    assert all(event.walk("VALARM") for event in events)
