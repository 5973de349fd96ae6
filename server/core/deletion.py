"""What deletion means on disks. Deleted rows leave bytes in free room of files; here they go for good.

SQLite zeroes what it deletes, but not what it moved while making room, so after an erasure the file is written anew
(VACUUM) and its log cut. PostgreSQL keeps dead rows until a VACUUM, and their bytes until a page is filled again; only
CLUSTER writes the tables anew, in the order of their random keys instead of that of arrival, and it holds everybody up
meanwhile, so it waits for a `sweep` that is run by hand or at night. Both are for whoever owns the tables; anybody else
PostgreSQL would pass over in silence, so a sweep with an account of its own leaves them to that other one. What stands
in PostgreSQL's log and in archives of it stays until it is overwritten or dropped, and that is said.
"""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import DatabaseError, connection

from server.core import samples
from server.core.grants import owns_the_tables
from server.core.models import Erasure
from server.core.register import our_models

GLANCE_MS = 50
LOCK_PATIENCE_S = 20
LONG_OPEN_S = 3600
HELD_FOR_LONG = """
SELECT (SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()
            AND clock_timestamp() - xact_start > make_interval(secs => %(seconds)s))
     + (SELECT count(*) FROM pg_prepared_xacts WHERE database = current_database()
            AND clock_timestamp() - prepared > make_interval(secs => %(seconds)s))
     + (SELECT count(*) FROM pg_replication_slots WHERE xmin IS NOT NULL)
"""
NOT_YET = (
    "What was erased again is not off the disks yet: others are at work on the database, or its tables are not this "
    "account's. Run as their owner: python -m server sweep"
)
LOG_NOT_OURS = (
    "the write-ahead log may hold it, and this role may not begin a new segment: as a superuser run "
    "SELECT pg_switch_wal(); CHECKPOINT; and drop archives from before it"
)


def make_physical(*, thorough: bool = False) -> bool:
    """Carry what was deleted off the disks; True when nothing of it is left, False to try again later.

    It does nothing inside a transaction, and never waits long for others who are at work: for those who hold a lock, or
    are in the middle of a transaction that began before the deletion and may still see what was deleted.
    """
    if connection.in_atomic_block:
        return False
    asked = list(Erasure.objects.filter(written=True, settled=False).values_list("pk", flat=True))
    rewrite = _in_sqlite if connection.vendor == "sqlite" else _in_postgresql
    try:
        done = rewrite(asked=bool(asked), thorough=thorough)
    except DatabaseError:
        return False
    if done and asked:
        _forget(asked)
    return done


def _forget(asked: list[int]) -> None:
    """Drop the rows that asked for it, but for the newest line: it says how far the journal is known."""
    newest = Erasure.objects.filter(written=True).exclude(line="").order_by("-number").values_list("pk", flat=True)[:1]
    Erasure.objects.filter(pk__in=asked).update(settled=True)
    Erasure.objects.filter(written=True, settled=True).exclude(pk__in=list(newest)).delete()


def _in_sqlite(*, asked: bool, thorough: bool) -> bool:
    with _impatient() as cursor:
        if asked or thorough:
            cursor.execute("VACUUM")
        cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        busy, *_ = cursor.fetchone()
    return not busy


@contextmanager
def _impatient() -> Iterator[Any]:
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA busy_timeout")
        (patience_ms,) = cursor.fetchone()
        cursor.execute(f"PRAGMA busy_timeout = {GLANCE_MS}")
        try:
            yield cursor
        finally:
            cursor.execute(f"PRAGMA busy_timeout = {patience_ms}")


def _in_postgresql(*, asked: bool, thorough: bool) -> bool:
    if not (asked or thorough):
        return True
    if not owns_the_tables():
        return False
    vacuum, done = f"VACUUM {', '.join(map(connection.ops.quote_name, our_tables()))}", True
    with connection.cursor() as cursor:
        cursor.execute(f"SET lock_timeout = '{LOCK_PATIENCE_S}s'")
        try:
            if thorough:
                samples.keep_none()
                # CLUSTER heeds what runs in any database of the server, VACUUM only what runs in this one.
                cursor.execute(vacuum)
                done = _in_the_order_of_keys(cursor)
            cursor.execute(vacuum)
        finally:
            cursor.execute("RESET lock_timeout")
    return done


def leave_the_log_behind() -> str:
    """After a thorough rewriting: have the log end here, and say in words what may still stand in it.

    From a checkpoint on, what lies before it is needed no more. Its segments are removed or used again in their turn,
    under later names and with their old bytes until these are written over, so no name tells which are clean.
    """
    if connection.vendor == "sqlite":
        return "the log of the database is cut"
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_switch_wal()")
            cursor.execute("CHECKPOINT")
            cursor.execute("SELECT count(*) FROM pg_ls_waldir() WHERE name ~ '^[0-9A-F]{24}$'")
            (n_segments,) = cursor.fetchone()
            cursor.execute("SHOW archive_mode")
            (archives,) = cursor.fetchone()
    except DatabaseError:
        return LOG_NOT_OURS
    left = f"{n_segments} segments of the write-ahead log may hold it until they are written over or removed"
    return left if archives == "off" else f"{left}, and archives of the log until you drop them"


def _in_the_order_of_keys(cursor: Any) -> bool:
    """Write every table anew; False when an erased row went along, for an older transaction that may still see it."""
    tables = our_tables()
    with _rows_kept() as kept:
        for table in tables:
            _write_anew(cursor, table)
    return kept == [0] * len(tables)


@contextmanager
def _rows_kept() -> Iterator[list[int]]:
    """How many erased rows each CLUSTER took along: the first number of its notice's detail, in whichever language."""
    kept: list[int] = []

    def hear(notice: Any) -> None:
        if number := re.search(r"\d+", notice.message_detail or ""):
            kept.append(int(number[0]))

    own = connection.connection
    own.add_notice_handler(hear)
    try:
        yield kept
    finally:
        own.remove_notice_handler(hear)


def _write_anew(cursor: Any, table: str) -> None:
    name = connection.ops.quote_name(table)
    cursor.execute(
        "SELECT relname FROM pg_index JOIN pg_class ON pg_class.oid = indexrelid "
        "WHERE indrelid = %s::regclass AND indisprimary",
        [name],
    )
    cursor.execute(f"CLUSTER VERBOSE {name} USING {connection.ops.quote_name(cursor.fetchone()[0])}")


def what_holds_erased_rows() -> Iterator[str]:
    """Complaints about what lets no sweep write the tables anew without them; others' transactions as far as seen."""
    if connection.vendor == "sqlite":
        return
    with connection.cursor() as cursor:
        cursor.execute(HELD_FOR_LONG, {"seconds": LONG_OPEN_S})
        (n_held,) = cursor.fetchone()
    if n_held:
        yield (
            f"{n_held} transactions or replicas have held on to erased rows for an hour; until they let go no sweep "
            "takes these off the disks. See pg_stat_activity, pg_prepared_xacts and pg_replication_slots."
        )


def our_tables() -> list[str]:
    return sorted(model._meta.db_table for model in our_models())
