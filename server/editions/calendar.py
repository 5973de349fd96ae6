"""The calendar of editions: slot n is cut off n-1 calendar months after the first cut-off.

Dates come in as arguments: nothing here reads a clock or a setting.
"""

from calendar import monthrange
from collections.abc import Collection
from datetime import date


def cut_off_of(slot: int, *, first: date) -> date:
    """The date at which a slot is cut off; slot 0 is the month before the first one.

    Counted from the first cut-off each time, so that a first cut-off on the 31st falls on the last day of a
    shorter month and is back on the 31st in the next long one.
    """
    months = first.year * 12 + first.month - 1 + slot - 1
    year, month = divmod(months, 12)
    return date(year, month + 1, min(first.day, monthrange(year, month + 1)[1]))


def latest_slot(today: date, *, first: date) -> int:
    """The last slot whose cut-off has been reached, 0 before the first."""
    slot = max(0, (today.year - first.year) * 12 + today.month - first.month + 1)
    return slot if slot == 0 or cut_off_of(slot, first=first) <= today else slot - 1


def due_slots(today: date, *, first: date, done: Collection[int]) -> tuple[int, ...]:
    """The slots whose cut-off has been reached and that have not been sealed, in order."""
    return tuple(slot for slot in range(1, latest_slot(today, first=first) + 1) if slot not in done)


def next_cut_off_after(today: date, *, first: date, every_months: int = 1) -> date:
    """The first cut-off that still lies ahead, of a group that takes part in every so manieth."""
    return cut_off_of(next_slot(latest_slot(today, first=first), every_months=every_months), first=first)


def takes_part(slot: int, *, every_months: int) -> bool:
    """Whether a group whose editions are so many months apart has one at this slot.

    All groups of one pace meet at the same slots, and ends of sums, which fall on every sixth, are edition dates of
    every pace there is.
    """
    return slot % every_months == 0


def next_slot(slot: int, *, every_months: int) -> int:
    """The group's first slot after this one."""
    return (slot // every_months + 1) * every_months


def editions_passed(since: int, slot: int, *, every_months: int) -> int:
    """How many of a group's editions a wear has been in wait for that waits since one slot and is looked at in another.

    The one at which it is looked at does not count.
    """
    first = -(-since // every_months)
    return max(0, -(-slot // every_months) - first)
