"""Columns of bytes, read as they are stored."""

from collections.abc import Iterable, Iterator
from typing import Final
from uuid import UUID

from django.db import connection
from django.db.models import Model

from server.core.chunks import chunks

ROWS_AT_A_TIME: Final = 100


def stored_bytes(model: type[Model], column: str, ids: Iterable[UUID]) -> Iterator[tuple[UUID, bytes]]:
    """The key and this column of each row with one of these keys, in no order.

    From PostgreSQL bytes come as bytes, and the first are read while it looks for the others: ask it nothing else
    before the last one. By the usual way they come as hexadecimal digits and for 900 keys a query, which takes three
    times as long; a cut-off reads those of every wear that waits.
    """
    if connection.vendor == "postgresql":
        yield from _from_postgresql(model, column, ids)
        return
    for chunk in chunks(ids):
        for key, stored in model._default_manager.filter(pk__in=chunk).values_list("pk", column):
            yield key, bytes(stored)


def _from_postgresql(model: type[Model], column: str, ids: Iterable[UUID]) -> Iterator[tuple[UUID, bytes]]:
    import psycopg  # present only where PostgreSQL is in use

    asked, _ = model._default_manager.values_list("pk", column).query.sql_with_params()
    key = connection.ops.quote_name(str(model._meta.pk.column))
    connection.ensure_connection()
    with connection.wrap_database_errors, psycopg.Cursor(connection.connection) as cursor:
        where = f"{asked} WHERE {key} = ANY(%s)"  # one parameter however many they are
        yield from cursor.stream(where, (list(set(ids)),), binary=True, size=ROWS_AT_A_TIME)
