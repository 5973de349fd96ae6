"""A plan as a calendar file (iCalendar, RFC 5545): floating local times, titles that say nothing, nobody's data.

The first day and the hour of waking are given by whoever makes the file and are kept nowhere.
"""

import hashlib
from datetime import UTC, date, datetime, time, timedelta

from icalendar import Alarm, Calendar, Event

from pooling.planning.plan import Plan

PRODID = "-//Commonwear//plan//EN"
TITLE_PRICK = "Reminder"
TITLE_CHANGE = "Next step"
A_PRICK = timedelta(minutes=5)
A_CHANGE = timedelta(minutes=15)


def plan_ics(
    plan: Plan, *, token: str, first_day: date, wakes_at: time, stamped_on: date, insert_after_waking_min: int
) -> bytes:
    """The plan's fingersticks and changes of sensor as events with a reminder each.

    Parameters
    ----------
    token
        Makes the events' names unique; what is written is a digest of it.
    first_day, wakes_at
        Local, of the test's first day.
    stamped_on
        The day the file is made, for DTSTAMP.
    insert_after_waking_min
        When a sensor is changed.

    Notes
    -----
    DTSTART without a zone is a floating time (RFC 5545, 3.3.5, form 1): it follows the wearer across time zones, as the
    wearer's day does. Events are TRANSPARENT: they do not make anybody busy.
    """
    calendar = Calendar()
    calendar.add("prodid", PRODID)
    calendar.add("version", "2.0")
    stamp = datetime.combine(stamped_on, time(), tzinfo=UTC)
    waking = datetime.combine(first_day, wakes_at)
    for wear in plan.wears:
        change = waking + timedelta(days=wear.from_day - 1, minutes=insert_after_waking_min)
        calendar.add_component(_event(TITLE_CHANGE, change, A_CHANGE, stamp, f"{token}|{wear.number}"))
        for index, prick in enumerate(wear.pricks):
            due = waking + timedelta(days=wear.from_day + prick.day - 2, minutes=prick.after_waking_min)
            calendar.add_component(_event(TITLE_PRICK, due, A_PRICK, stamp, f"{token}|{wear.number}|{index}"))
    end = waking + timedelta(days=plan.n_days - 1, minutes=insert_after_waking_min)
    calendar.add_component(_event(TITLE_CHANGE, end, A_CHANGE, stamp, f"{token}|end"))
    return bytes(calendar.to_ical())


def _event(title: str, start: datetime, length: timedelta, stamp: datetime, name: str) -> Event:
    event = Event()
    event.add("uid", hashlib.sha256(name.encode()).hexdigest()[:32])
    event.add("dtstamp", stamp)
    event.add("dtstart", start)
    event.add("duration", length)
    event.add("summary", title)
    event.add("transp", "TRANSPARENT")
    event.add("class", "PRIVATE")
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", title)
    alarm.add("trigger", timedelta(0))
    event.add_component(alarm)
    return event
