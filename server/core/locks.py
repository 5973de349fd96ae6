"""Locks that die with the process that holds them, whichever database is in use.

`single_writer` is a transaction that runs alone; `transaction_holding` one that holds names until it ends; `held` marks
a longer piece of work, across many transactions, that must not run twice at once; `hold_rows` and `share_row` keep rows
as they are until the transaction ends, for one alone and for many at once. None writes a row or a time, so nothing is
left to clean up after a kill.
"""

import fcntl
import hashlib
import os
from collections.abc import Iterable, Iterator, Mapping
from contextlib import ExitStack, contextmanager, nullcontext
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

from django.conf import settings
from django.db import OperationalError, connection, transaction
from django.db.models import Model, QuerySet

from server.core.chunks import chunks

Row = TypeVar("Row", bound=Model)

LOCK_NOT_AVAILABLE = "55P03"  # PostgreSQL's word for it


def _number(name: str) -> int:
    """A signed 64-bit number for PostgreSQL's advisory locks."""
    return int.from_bytes(hashlib.sha256(name.encode()).digest()[:8], signed=True)


@contextmanager
def single_writer(name: str) -> Iterator[None]:
    """Run a transaction that no other one of the same name runs beside."""
    with transaction.atomic():
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SELECT pg_advisory_xact_lock(%s)", [_number(name)])
        # SQLite: a transaction begins IMMEDIATE, so there is only ever one writer.
        yield


@contextmanager
def held(name: str) -> Iterator[bool]:
    """Hold `name` until the block ends; False, at once, when somebody else holds it."""
    lock = _held_in_postgresql if connection.vendor == "postgresql" else held_here
    with lock(name) as mine:
        yield mine


@contextmanager
def transaction_holding(names: Iterable[str]) -> Iterator[frozenset[str]]:
    """A transaction that holds, until it ends, those of `names` that nobody else holds; says which these are."""
    if connection.vendor == "postgresql":
        with transaction.atomic():
            yield _held_by_transaction({_number(name): name for name in names})
    else:
        with ExitStack() as stack:
            held = frozenset(name for name in set(names) if stack.enter_context(held_here(name)))
            # Who holds nothing is told so at once, and does not wait for the writer who does.
            with transaction.atomic() if held else nullcontext():
                yield held


def _held_by_transaction(names: Mapping[int, str]) -> frozenset[str]:
    tried = "SELECT number FROM unnest(%s::bigint[]) AS number WHERE pg_try_advisory_xact_lock(number)"
    with connection.cursor() as cursor:
        cursor.execute(tried, [list(names)])
        return frozenset(names[number] for (number,) in cursor.fetchall())


@contextmanager
def _held_in_postgresql(name: str) -> Iterator[bool]:
    import psycopg  # present only where PostgreSQL is in use

    # A connection of its own: the lock lasts as long as this process, whatever happens to the pooled connections.
    parameters = connection.get_connection_params()
    with psycopg.connect(**parameters, autocommit=True) as own:
        row = own.execute("SELECT pg_try_advisory_lock(%s)", [_number(name)]).fetchone()
        yield bool(row and row[0])
        # The server ends a connection in its own time; whoever asks next must not find the name still held.
        own.execute("SELECT pg_advisory_unlock_all()")


@contextmanager
def held_here(name: str) -> Iterator[bool]:
    """Like `held`, among the processes of this machine alone."""
    descriptor, path = _opened(name)
    try:
        mine = _try_lock(descriptor, path)
        try:
            yield mine
        finally:
            if mine:
                path.unlink(missing_ok=True)
    finally:
        os.close(descriptor)


def hold_for_good(name: str) -> bool:
    """Hold `name` on this machine until the process ends, whatever program it becomes; False when another holds it."""
    descriptor, path = _opened(name)
    if not _try_lock(descriptor, path):
        os.close(descriptor)
        return False
    os.set_inheritable(descriptor, True)
    return True


def _opened(name: str) -> tuple[int, Path]:
    path = settings.DATA_DIR / "locks" / hashlib.sha256(name.encode()).hexdigest()[:32]
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    return os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600), path


def _try_lock(descriptor: int, path: Path) -> bool:
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        # The holder before us may have removed the file between our opening and our locking it.
        return os.path.samestat(os.fstat(descriptor), path.stat())
    except (BlockingIOError, FileNotFoundError):
        return False


def hold_rows(rows: "QuerySet[Row]", ids: Iterable[Any]) -> list[Row]:
    """Those of `rows` with these keys, kept as they are until the transaction ends; who is at work on one comes first.

    Several rows are always held in the order of their keys, and accounts before wears: so nobody waits in a circle.
    New rows may point at them meanwhile. On SQLite there is only ever one writer, and nothing to hold.
    """
    held = rows.select_for_update(of=("self",), no_key=True).order_by("pk")
    return [row for chunk in chunks(ids) for row in held.filter(pk__in=chunk)]


def waited_too_long(error: Exception) -> bool:
    """Whether the database gave up waiting for what somebody else holds (`lock_timeout`; `web` sets one)."""
    return isinstance(error, OperationalError) and getattr(error.__cause__, "sqlstate", None) == LOCK_NOT_AVAILABLE


def share_row(row: Model) -> None:
    """Keep a row from whoever locks it whole (`select_for_update`) until the transaction ends; such a one comes first.

    Any number share it, and beside them it may be held (`hold_rows`): a long cut-off keeps nobody waiting. A new row
    that points at it takes the same lock anyway, but only when its transaction ends.
    """
    if connection.vendor != "postgresql":
        return
    # The row may be a user who is looked up only when asked about: its type is not the model.
    with connection.cursor() as cursor:
        cursor.execute(_sharing(row._meta.model), [row.pk])


@cache
def _sharing(model: type[Model]) -> str:
    """In words of its own: Django has none for this strength of lock."""
    table, key = map(connection.ops.quote_name, (model._meta.db_table, str(model._meta.pk.column)))
    return f"SELECT {key} FROM {table} WHERE {key} = %s FOR KEY SHARE"  # noqa: S608 (names of the model)  # nosec B608
