import uuid
from datetime import date

import pytest
from django.db import DatabaseError, connection, transaction
from django.test.utils import CaptureQueriesContext

from server.core import stored
from server.core.models import IdempotencyKey
from server.core.stored import stored_bytes, write_together
from server.wears.models import Wear, WearPairs, WearSummary

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


def _kept(mark, *, on=date(2031, 1, 5)):
    return IdempotencyKey(
        mark=mark, account_mark="", body_digest="", key_version=1, answer=b"\x00\xff%s", answered_on=on
    )


def test_rows_of_several_tables_are_written_as_they_stand(upload, contributor):
    like = upload(contributor)
    wears = [
        Wear(header={"site": "%s", "of": [1, None]}, findings=[], likeness=b"\x00\xff", uploaded_month=date(2031, 1, 1))
        for _ in range(3)
    ]
    pairs = [WearPairs(wear=wear, block=bytes(like.pairs.block), erase_on=date(2032, 1, 1)) for wear in wears]
    write_together(wears, [], pairs, [_kept("a")])
    for wear in wears:
        stored_now = Wear.objects.get(pk=wear.pk)
        assert (stored_now.header, stored_now.findings, bytes(stored_now.likeness)) == (wear.header, [], b"\x00\xff")
        assert (stored_now.state, stored_now.group_id, stored_now.copied) == ("private", None, False)
        assert bytes(stored_now.pairs.block) == bytes(like.pairs.block)
        wear.findings = ["something"]
        wear.save()  # is no row of its own
        assert Wear.objects.get(pk=wear.pk).findings == ["something"]
    assert Wear.objects.count() == 1 + len(wears)
    assert bytes(IdempotencyKey.objects.get(pk="a").answer) == b"\x00\xff%s"


def test_a_row_that_is_refused_lets_none_be_written(upload, contributor):
    wear = upload(contributor)
    too_long = [[_kept("x" * 33)]] if connection.vendor == "postgresql" else []  # SQLite counts no characters
    for refused in ([_kept("b"), _kept("b")], [_kept("c", on=None)], *too_long):
        with pytest.raises(DatabaseError), transaction.atomic():
            write_together([_kept("a")], refused)
    assert not IdempotencyKey.objects.exists()
    assert Wear.objects.get() == wear


def test_nothing_is_written_where_there_is_nothing():
    with CaptureQueriesContext(connection) as statements:
        write_together()
        write_together([], [])
    assert not statements
