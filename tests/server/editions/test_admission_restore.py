"""A copy of the database from before a cut-off is put back: who was counted since is never counted a second time."""

import pytest
from django.db import transaction

from pooling.likeness import TIMED_BANDS, UNTIMED_BANDS
from server.core import journal
from server.core.errors import Conflict
from server.editions.models import RecordKind, SealedRecord, Slot
from server.wears.models import Awaited
from tests.server.editions.conftest import THIGH
from tests.server.editions.marks import spent_marks

N_MARKS = 2 * 8 * (TIMED_BANDS + UNTIMED_BANDS)  # for accuracy, and for the time on the skin


@pytest.fixture
def put_back(pool, settings, tmp_path):
    """Eight people were counted at a cut-off; the database stands again as it stood before, the journal does not."""
    settings.ERASURE_JOURNAL = tmp_path / "erasures.journal"
    pool.wears(pool.members(8), THIGH)
    copy = transaction.savepoint()
    pool.cut_off(1)
    assert SealedRecord.objects.filter(kind=RecordKind.BLOCK).exists()
    marks = spent_marks()
    assert len(marks) == N_MARKS
    assert 0 < journal.write_out() < N_MARKS / 10  # many marks a line
    transaction.savepoint_rollback(copy)
    assert not Slot.objects.exists()
    return pool, marks


def test_no_cut_off_passes_before_the_journal_is_replayed(put_back):
    pool, _ = put_back
    with pytest.raises(Conflict, match="server replay"):
        pool.cut_off(1)
    assert not Slot.objects.exists()


def test_what_was_counted_waits_and_never_enters(put_back):
    pool, marks = put_back
    assert journal.replay_if_ahead()["spent"] == N_MARKS
    assert spent_marks() == marks
    pool.wears(pool.members(7), THIGH)
    pool.cut_off(1)
    for family in ("accuracy", "survival"):
        assert Awaited.objects.filter(family=family).count() == 8
        assert SealedRecord.objects.get(family=family, kind=RecordKind.BLOCK).payload["n_wears"] == 7


def test_replaying_again_finds_nothing_left_to_do(put_back):
    assert journal.replay()["spent"] == N_MARKS
    assert journal.replay()["spent"] == 0
