"""A machine's date jumps: no cut-off is passed twice or left out, and nothing is drafted that was."""

from datetime import timedelta

import pytest

from server.core.clock import today
from server.core.services import sweep
from server.editions.models import Draft, SealedRecord, Slot
from tests.server.editions.conftest import FIRST

YEAR = timedelta(days=365)


@pytest.mark.django_db
def test_back_and_forth(pool, sealed, run_due_jobs):
    sums = set(SealedRecord.objects.values_list("pk", flat=True))
    pool.clock.set(FIRST - YEAR)
    sweep()
    assert [slot.number for slot in Slot.objects.all()] == [1]
    pool.clock.set(FIRST + timedelta(days=62))
    sweep()
    sweep()
    assert sorted(slot.number for slot in Slot.objects.all()) == [1, 2, 3]
    assert {pk for pk in sums if SealedRecord.objects.filter(pk=pk).exists()} == sums
    run_due_jobs()
    n_drafts = Draft.objects.count()
    pool.clock.set(FIRST)
    sweep()
    pool.clock.set(FIRST + timedelta(days=62))
    sweep()
    assert Draft.objects.count() == n_drafts
    assert today() == FIRST + timedelta(days=62)
