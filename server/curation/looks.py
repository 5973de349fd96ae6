"""Each look of a moderator at a wear is noted, counted for its owner, and limited in number."""

import time
from collections import Counter
from datetime import date, timedelta
from typing import Final
from uuid import UUID

from django.db import transaction

from server.accounts.models import Account
from server.core import clock, keys
from server.core.errors import TooMany
from server.core.locks import single_writer
from server.curation.models import Look

MOST_WEARS_A_DAY: Final = 60
DAYS_KEPT: Final = 366
DAY_S: Final = 24 * 3600


@transaction.atomic
def note_look(wear_id: UUID, *, by: Account) -> None:
    """Note that a moderator looks at a wear today; refuse it when the day has had its number of wears.

    The same wear looked at again on a day is one look.
    """
    mark, today = _moderator_marks(by)[-1], clock.today()
    with single_writer(f"looks of {mark}"):
        looks = Look.objects.filter(moderator_mark=mark, on_day=today)
        if looks.filter(wear_mark__in=_wear_marks(wear_id)).exists():
            return
        if looks.count() >= MOST_WEARS_A_DAY:
            raise TooMany(
                f"You have looked at {MOST_WEARS_A_DAY} wears today. Decide about these; the others wait.",
                retry_after_s=DAY_S - int(time.time()) % DAY_S,
            )
        Look.objects.create(moderator_mark=mark, wear_mark=_wear_marks(wear_id)[-1], on_day=today)


def n_moderators_who_looked(wear_id: UUID) -> int:
    """How many moderators looked at a wear before this month; by the month, so that no look can be seen happening."""
    looks = Look.objects.filter(wear_mark__in=_wear_marks(wear_id), on_day__lt=clock.this_month())
    return looks.values("moderator_mark").distinct().count()


def looks_by_day() -> list[tuple[date, str, int]]:
    """For the operator: on which day which mark looked at how many wears, the last day first."""
    counts = Counter(Look.objects.values_list("on_day", "moderator_mark"))
    return [(day, mark, counts[day, mark]) for day, mark in sorted(counts, reverse=True)]


def forget_looks(today: date) -> int:
    last = today - timedelta(days=DAYS_KEPT)
    past = Look.objects.filter(on_day__lt=last)
    return past.forget() if past.exists() else 0


def _moderator_marks(account: Account) -> list[str]:
    return keys.written_marks("looking moderator", account.id.bytes)


def _wear_marks(wear_id: UUID) -> list[str]:
    return keys.written_marks("looked at wear", wear_id.bytes)
