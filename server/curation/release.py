"""When moderators get to see wears: in batches of k people or more, on one day of the week, in no order.

That a wear appears then says that it came since the queue's batch before, and nothing of when or in whose company.
"""

from datetime import date, timedelta

from django.db import transaction

from server.accounts.selectors import owners_of
from server.core.chunks import chunks
from server.core.locks import hold_rows, single_writer
from server.curation.models import ReleaseDay
from server.curation.queues import wears_of
from server.groups.models import Group
from server.groups.selectors import protocol_of
from server.wears.models import Wear
from server.wears.transitions import State


def release_batches(today: date) -> int:
    """Release what has come together by this week's day, once a week; say how many wears were released.

    The day is Monday; where nobody was at work on it, the first day after it stands in.
    """
    monday = today - timedelta(days=today.weekday())
    if ReleaseDay.objects.filter(on=monday).exists():
        return 0  # most sweeps; they need not wait for whoever writes
    with transaction.atomic(), single_writer("release of batches"):
        _, is_new = ReleaseDay.objects.get_or_create(on=monday)
        if not is_new:
            return 0
        ReleaseDay.objects.exclude(on=monday).delete()
        return sum(_release(queue) for queue in Group.objects.order_by("slug"))


def _release(queue: Group) -> int:
    """Everything that has come to a queue since its last batch, if it is of enough people; else nothing.

    A wear of which no worker has seen yet whether it is a copy waits for the next batch.
    """
    fresh = wears_of(queue).filter(state=State.QUEUED, released=False, copied__isnull=False)
    owners = owners_of(fresh.values_list("pk", flat=True))
    if len({owner["account_id"] for owner in owners.values()}) < protocol_of(queue).k:
        return 0
    held = [wear.pk for wear in hold_rows(Wear.objects.filter(state=State.QUEUED, released=False), owners)]
    for chunk in chunks(held):
        Wear.objects.filter(pk__in=chunk).update(released=True)
    return len(held)
