"""The one place that knows which day it is. Days and months are as fine as the server's memory of members gets."""

import time
from datetime import UTC, date, datetime

from django.conf import settings


def today() -> date:
    if settings.CLOCK_FILE:
        return date.fromisoformat(settings.CLOCK_FILE.read_text(encoding="utf-8").strip())
    return datetime.now(tz=UTC).date()


def this_month() -> date:
    """Its first day, which stands for it."""
    return today().replace(day=1)


def month_after(day: date, n_months: int) -> date:
    """The month so many months after that of a day, or before it; by its first day."""
    year, index = divmod(day.year * 12 + day.month - 1 + n_months, 12)
    return date(year, index + 1, 1)


def hour() -> int:
    """Hours since 1970: the window in which tries are counted, forgotten with it."""
    return int(time.time()) // 3600
