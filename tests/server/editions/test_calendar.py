"""Calendar arithmetic against dates read off a printed calendar (2026 to 2028; 2028 is a leap year)."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pooling.ledger import end_bucket
from server.editions.calendar import (
    cut_off_of,
    due_slots,
    editions_passed,
    latest_slot,
    next_cut_off_after,
    next_slot,
    takes_part,
)

FIRST = date(2026, 1, 31)
dates = st.dates(min_value=date(2020, 1, 1), max_value=date(2040, 12, 31))


def test_a_first_cut_off_on_the_31st_falls_on_the_last_day_of_short_months_and_comes_back():
    assert [cut_off_of(slot, first=FIRST) for slot in (1, 2, 3, 4, 26)] == [
        date(2026, 1, 31),
        date(2026, 2, 28),
        date(2026, 3, 31),
        date(2026, 4, 30),
        date(2028, 2, 29),
    ]


def test_the_slot_before_the_first_is_the_month_before():
    assert cut_off_of(0, first=date(2026, 1, 15)) == date(2025, 12, 15)


def test_a_slot_is_reached_on_its_day_and_not_the_day_before():
    assert latest_slot(date(2026, 2, 27), first=FIRST) == 1
    assert latest_slot(date(2026, 2, 28), first=FIRST) == 2
    assert latest_slot(date(2026, 1, 30), first=FIRST) == 0
    assert latest_slot(date(2019, 5, 1), first=FIRST) == 0


def test_due_are_the_reached_slots_that_are_not_done():
    assert due_slots(date(2026, 4, 30), first=FIRST, done={1, 3}) == (2, 4)
    assert due_slots(date(2026, 1, 1), first=FIRST, done=()) == ()


def test_the_next_cut_off_on_a_cut_off_day_is_a_month_later():
    assert next_cut_off_after(date(2026, 2, 28), first=FIRST) == date(2026, 3, 31)
    assert next_cut_off_after(date(2025, 6, 1), first=FIRST) == FIRST


@given(first=dates, today=dates)
def test_today_lies_between_the_latest_cut_off_and_the_next(first, today):
    slot = latest_slot(today, first=first)
    assert slot == 0 or cut_off_of(slot, first=first) <= today
    assert next_cut_off_after(today, first=first) > today
    assert latest_slot(next_cut_off_after(today, first=first) - timedelta(days=1), first=first) == slot


def test_a_group_of_fewer_editions_has_them_on_dates_of_the_one_calendar():
    assert [slot for slot in range(1, 13) if takes_part(slot, every_months=3)] == [3, 6, 9, 12]
    assert [next_slot(slot, every_months=2) for slot in (0, 1, 2, 3)] == [2, 2, 4, 4]
    assert next_cut_off_after(date(2026, 2, 28), first=FIRST, every_months=3) == date(2026, 3, 31)
    assert next_cut_off_after(date(2026, 3, 31), first=FIRST, every_months=3) == date(2026, 6, 30)


@pytest.mark.parametrize("every_months", [1, 2, 3])
def test_sums_end_on_edition_dates_whatever_the_pace(every_months):
    assert all(takes_part(end_bucket(slot), every_months=every_months) for slot in range(1, 40))


@pytest.mark.parametrize(
    ("since", "slot", "every_months", "passed"),
    [(3, 3, 1, 0), (3, 5, 1, 2), (4, 6, 3, 0), (4, 9, 3, 1), (6, 9, 3, 1), (7, 12, 3, 1), (1, 12, 2, 5)],
)
def test_a_wait_is_counted_in_the_editions_of_the_group(since, slot, every_months, passed):
    assert editions_passed(since, slot, every_months=every_months) == passed
    looked_at = [each for each in range(since, slot) if takes_part(each, every_months=every_months)]
    assert passed == len(looked_at)
