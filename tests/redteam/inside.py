"""What stands in the database of a running service, asked from a process beside it: `… inside QUESTION [WORD …]`."""

import hashlib
import json
import sys

import django
from django.apps import apps
from django.db import connection

django.setup()

from server.editions.models import Edition, Place, SealedRecord, Slot, SpentMarks, TieSeat  # noqa: E402
from server.wears.models import WearSummary  # noqa: E402
from tests.server.releasing import release_all  # noqa: E402


def slots() -> int:
    return Slot.objects.count()


def release() -> None:
    """Let moderators see whatever waits for its batch."""
    release_all()


def summaries(*wears: str) -> dict[str, str]:
    """The packed statistics of each wear, in hexadecimal digits."""
    return {str(row.wear_id): bytes(row.payload).hex() for row in WearSummary.objects.filter(wear_id__in=wears)}


def pool() -> str:
    """A digest over every row of the pool and of what was published."""
    digest = hashlib.sha256()
    for model in (SealedRecord, Place, TieSeat, SpentMarks, Edition):
        rows = list(model.objects.order_by("pk").values_list())
        assert rows or model is TieSeat
        digest.update(repr([[bytes(c) if isinstance(c, memoryview) else c for c in row] for row in rows]).encode())
    return digest.hexdigest()


def tables() -> dict[str, tuple[int, int, str]]:
    """Of every table with rows: how many, how long they are written down, and a digest over all of them."""
    found = {}
    for model in sorted(apps.get_models(), key=lambda model: model._meta.label):
        rows = [
            repr([bytes(cell) if isinstance(cell, memoryview) else cell for cell in row]).encode()
            for row in model._base_manager.order_by("pk").values_list()
        ]
        if rows:
            digest = hashlib.sha256(b"".join(rows)).hexdigest()
            found[model._meta.label] = (len(rows), sum(map(len, rows)), digest)
    return found


def deleted_naively() -> str:
    """PostgreSQL only: the files after rows of a table were deleted and nothing else was done."""
    with connection.cursor() as cursor:
        cursor.execute("CREATE TABLE naive AS SELECT * FROM wears_wearpairs")
        cursor.execute("DELETE FROM naive")
        content = files()
        cursor.execute("DROP TABLE naive")
    return content


def files() -> str:
    """PostgreSQL only: every file of this database as it stands on the disk, in hexadecimal digits."""
    with connection.cursor() as cursor:
        cursor.execute("CHECKPOINT")
        cursor.execute(
            "SELECT encode(pg_read_binary_file(pg_relation_filepath(oid)), 'hex') FROM pg_class "
            "WHERE pg_relation_filepath(oid) IS NOT NULL AND relnamespace::regnamespace::text IN ('public', 'pg_toast')"
        )
        return "".join(row[0] for row in cursor.fetchall())


if __name__ == "__main__":
    answer = globals()[sys.argv[1]](*sys.argv[2:])
    sys.stdout.write(json.dumps(answer))
