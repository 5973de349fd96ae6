"""Which edition dates are behind, which is next, and on which of them sums end: by the calendar alone."""

from dataclasses import dataclass
from datetime import date

from django.conf import settings

from pooling.ledger import end_bucket
from server.editions import calendar
from server.editions.models import Slot


def latest_sealed_slot() -> Slot | None:
    return Slot.objects.order_by("-number").first()


def next_to_seal() -> int:
    """The number of the next edition date at which wears are counted."""
    latest = latest_sealed_slot()
    return 1 if latest is None else latest.number + 1


@dataclass(frozen=True, slots=True)
class OpenEnd:
    """A date on which sums end that count now, and the edition dates at which their wears were first counted."""

    end: int
    ends_on: date
    counted_from: date
    counted_to: date


def open_ends() -> list[OpenEnd]:
    """Whether anything ends there is not said."""
    latest = next_to_seal() - 1
    by_end: dict[int, list[int]] = {}
    for slot in range(1, latest + 1):
        by_end.setdefault(end_bucket(slot), []).append(slot)
    return [
        OpenEnd(end, date_of(end), date_of(slots[0]), date_of(slots[-1]))
        for end, slots in sorted(by_end.items())
        if end > latest
    ]


def date_of(slot: int) -> date:
    return calendar.cut_off_of(slot, first=settings.FIRST_CUT_OFF)


def next_cut_off(today: date, *, every_months: int = 1) -> date:
    return calendar.next_cut_off_after(today, first=settings.FIRST_CUT_OFF, every_months=every_months)
