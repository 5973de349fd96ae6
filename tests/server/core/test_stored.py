import uuid

import pytest
from django.db import DatabaseError, connection, transaction

from server.core import stored
from server.core.stored import stored_bytes
from server.wears.models import Wear, WearSummary

pytestmark = pytest.mark.django_db


def _as_django_reads(model, column, ids):
    return {row.pk: bytes(getattr(row, column)) for row in model.objects.filter(pk__in=ids)}


@pytest.mark.parametrize(("model", "column"), [(WearSummary, "payload"), (Wear, "likeness")])
def test_each_asked_for_is_read_once_and_as_it_was_written(upload, contributor, monkeypatch, model, column):
    monkeypatch.setattr(stored, "ROWS_AT_A_TIME", 2)
    ids = [upload(contributor, seed=seed).pk for seed in range(6)]
    asked = [*ids[1:], ids[1], uuid.uuid4()]
    found = list(stored_bytes(model, column, asked))
    assert len(found) == 5
    assert dict(found) == _as_django_reads(model, column, ids[1:])
    assert all(type(content) is bytes and content for _, content in found)


def test_nothing_is_asked_for_nothing():
    assert list(stored_bytes(WearSummary, "payload", [])) == []


def test_what_the_same_transaction_wrote_is_read(upload, contributor):
    with transaction.atomic():
        wear = upload(contributor)
        WearSummary.objects.filter(pk=wear.pk).update(payload=b"\x00other")
        assert dict(stored_bytes(WearSummary, "payload", [wear.pk])) == {wear.pk: b"\x00other"}


def test_a_fault_of_the_database_is_one_of_the_kind_that_others_know():
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("ALTER TABLE wears_wearsummary RENAME TO elsewhere")
        asked = stored_bytes(WearSummary, "payload", [uuid.uuid4()])
        with pytest.raises(DatabaseError):
            list(asked)
        transaction.set_rollback(True)
