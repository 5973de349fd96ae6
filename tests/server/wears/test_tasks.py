from datetime import date

import pytest

from pooling.ledger import end_bucket
from server.core import jobs
from server.editions.calendar import cut_off_of
from server.wears import tasks
from server.wears.intake import MONTHS_KEPT, month_after
from server.wears.models import Wear, WearPairs

pytestmark = pytest.mark.django_db


def test_the_sweep_erases_readings_on_their_date_and_leaves_the_wear(upload, contributor):
    upload(contributor)
    tasks.erase_readings(date(2032, 1, 31))
    assert WearPairs.objects.count() == 1
    tasks.erase_readings(date(2032, 2, 1))
    assert (WearPairs.objects.count(), Wear.objects.count()) == (0, 1)


@pytest.mark.parametrize("slot", range(1, 25))
@pytest.mark.parametrize("first", [date(2031, 3, 1), date(2031, 1, 31)])
def test_the_date_always_comes_before_the_first_end_of_sums_with_the_wear(slot, first):
    last_upload = cut_off_of(slot, first=first).replace(day=1)
    assert month_after(last_upload, MONTHS_KEPT) < cut_off_of(end_bucket(slot), first=first)


def test_the_sweep_knows_of_it():
    assert tasks.erase_readings in jobs.sweepers().values()
