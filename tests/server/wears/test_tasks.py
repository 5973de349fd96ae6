from datetime import date

import pytest

from server.core import jobs
from server.wears import tasks
from server.wears.models import Wear, WearPairs

pytestmark = pytest.mark.django_db


def test_the_sweep_erases_readings_on_their_date_and_leaves_the_wear(upload, contributor):
    upload(contributor)
    tasks.erase_readings(date(2032, 1, 31))
    assert WearPairs.objects.count() == 1
    tasks.erase_readings(date(2032, 2, 1))
    assert (WearPairs.objects.count(), Wear.objects.count()) == (0, 1)


def test_the_sweep_knows_of_it():
    assert tasks.erase_readings in jobs.sweepers().values()
