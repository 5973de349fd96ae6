"""A copy of the database from before an early end is put back: what had been ended is ended again."""

from django.db import transaction

from server.core import journal
from server.editions.models import SealedRecord
from tests.server.editions.conftest import FLANK, THIGH
from tests.server.editions.test_closing import close, standing


def test_what_moderators_ended_stays_ended(sealed, settings, tmp_path):
    settings.ERASURE_JOURNAL = tmp_path / "erasures.journal"
    journal.write_out()
    copy = transaction.savepoint()
    before = standing()
    close(sealed)
    sealed.cut_off(2)
    after = set(SealedRecord.objects.filter(payload__isnull=False).values_list("pk", flat=True))
    n_ended = before.total() - len(after)
    assert n_ended > 3
    journal.write_out()
    transaction.savepoint_rollback(copy)
    assert standing() == before
    assert journal.replay()["ended-early"] == n_ended
    assert set(SealedRecord.objects.filter(payload__isnull=False).values_list("pk", flat=True)) == after
    assert {place for _, _, place, _ in standing()} == {FLANK}
    assert journal.replay()["ended-early"] == 0
    assert standing(place=THIGH).total() == 0
