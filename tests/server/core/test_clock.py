import time
from datetime import UTC, date, datetime

import pytest

from server.core.clock import hour, month_after, this_month, today


def test_the_day_stands_where_the_clock_file_says(clock):
    clock.set(date(2032, 2, 29))
    assert today() == date(2032, 2, 29)
    assert this_month() == date(2032, 2, 1)


def test_without_a_clock_file_it_is_the_day_in_utc(settings):
    settings.CLOCK_FILE = None
    before = datetime.now(tz=UTC).date()
    assert before <= today() <= datetime.now(tz=UTC).date()


def test_tries_are_counted_by_whole_hours(monkeypatch):
    monkeypatch.setattr(time, "time", lambda: 2 * 3600 + 3599.9)
    assert hour() == 2


@pytest.mark.parametrize(
    ("day", "n_months", "month"),
    [
        (date(2031, 12, 1), 1, date(2032, 1, 1)),
        (date(2031, 3, 31), 9, date(2031, 12, 1)),
        (date(2031, 1, 31), 13, date(2032, 2, 1)),
        (date(2031, 1, 15), -1, date(2030, 12, 1)),
    ],
)
def test_months_are_counted_whole(day, n_months, month):
    assert month_after(day, n_months) == month
