"""Whether cut-offs were passed in their time, and editions are what was published."""

from collections.abc import Iterator

from django.conf import settings
from prometheus_client.metrics_core import Metric

from pooling.edition import sha256_hex
from server.core import clock, metrics
from server.editions.calendar import due_slots
from server.editions.models import Edition, Slot


def another_calendar() -> str:
    """Whether the first cut-off is not the one that there was, in words: years of cut-offs could be passed at once."""
    first = Slot.objects.filter(number=1).values_list("cut_off", flat=True).first()
    if first in (None, settings.FIRST_CUT_OFF):
        return ""
    return (
        f"The first cut-off was on {first}, and COMMONWEAR_FIRST_CUT_OFF says {settings.FIRST_CUT_OFF}. No cut-off is "
        f"passed until it says {first} again."
    )


def told_of_odd_editions() -> list[str]:
    """What an operator has to know: cut-offs that were not passed in their time, and documents that were changed."""
    if other := another_calendar():
        return [other]
    done = Slot.objects.values_list("number", flat=True)
    due = due_slots(clock.today(), first=settings.FIRST_CUT_OFF, done=set(done))
    late = [
        f"The cut-off of slot {slot} is due and was not passed. Does a sweep run, and is this machine's date right?"
        for slot in due
    ]
    ahead = Slot.objects.filter(cut_off__gt=clock.today()).count()
    changed = [
        f"Edition {edition.pk} is not the bytes that were published. Put back a copy from before."
        for edition in Edition.objects.iterator()
        if sha256_hex(bytes(edition.document)) != edition.sha256
    ]
    odd = ["A cut-off was passed that lies in the future. This machine's date is wrong."] if ahead else []
    return [*late, *odd, *changed]


def in_figures() -> Iterator[Metric]:
    """For a monitoring program: how the calendar stands."""
    done = frozenset(Slot.objects.values_list("number", flat=True))
    due = due_slots(clock.today(), first=settings.FIRST_CUT_OFF, done=done)
    yield metrics.gauge("cut_offs_passed", "Cut-offs that have been passed", len(done))
    yield metrics.gauge("cut_offs_overdue", "Cut-offs whose date has come and that have not been passed", len(due))
    yield metrics.gauge("editions", "Editions that were published", Edition.objects.count())
