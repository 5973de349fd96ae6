from datetime import date

from server.editions.models import Edition, Slot
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
