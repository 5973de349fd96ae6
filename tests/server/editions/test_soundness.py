from datetime import date

import pytest

from server.core.errors import Conflict
from server.editions.models import Edition, Slot
from server.editions.services import run_cut_off_of, run_due_cut_offs
from server.editions.soundness import told_of_odd_editions


def test_missed_and_future_cut_offs_and_changed_documents_are_told(settings, clock, edition):
    settings.FIRST_CUT_OFF = date(2031, 3, 1)
    clock.set(date(2031, 2, 10))
    assert told_of_odd_editions() == []
    settings.FIRST_CUT_OFF = date(2031, 2, 1)
    assert "was not passed" in told_of_odd_editions()[0]
    settings.FIRST_CUT_OFF = date(2031, 3, 1)
    Slot.objects.create(number=99, cut_off=date(2039, 1, 1))
    Edition._base_manager.filter(pk=edition.pk).update(sha256="0" * 64)
    ahead, changed = told_of_odd_editions()
    assert "in the future" in ahead
    assert str(edition.pk) in changed


@pytest.mark.parametrize("day", [date(2027, 1, 1), date(2031, 3, 2)], ids=["before", "after"])
def test_with_another_first_cut_off_than_there_was_none_is_passed(db, settings, clock, day):
    """Settings that were lost with a machine: by the default years of cut-offs would be due."""
    clock.set(date(2031, 6, 1))
    settings.FIRST_CUT_OFF = date(2031, 3, 1)
    Slot.objects.create(number=1, cut_off=date(2031, 3, 1))
    settings.FIRST_CUT_OFF = day
    with pytest.raises(Conflict, match="The first cut-off was on 2031-03-01"):
        run_due_cut_offs(date(2031, 6, 1))
    with pytest.raises(Conflict, match="until it says 2031-03-01 again"):
        run_cut_off_of(2, today=date(2031, 6, 1))
    (told,) = told_of_odd_editions()
    assert str(day) in told
    assert Slot.objects.count() == 1
