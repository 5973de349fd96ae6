import time
from datetime import UTC, date, datetime

from server.core.clock import hour, today


def test_the_day_stands_where_the_clock_file_says(clock):
    clock.set(date(2032, 2, 29))
    assert today() == date(2032, 2, 29)


def test_without_a_clock_file_it_is_the_day_in_utc(settings):
    settings.CLOCK_FILE = None
    before = datetime.now(tz=UTC).date()
    assert before <= today() <= datetime.now(tz=UTC).date()


def test_tries_are_counted_by_whole_hours(monkeypatch):
    monkeypatch.setattr(time, "time", lambda: 2 * 3600 + 3599.9)
    assert hour() == 2
