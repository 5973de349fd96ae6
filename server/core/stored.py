"""Rows written as they stand, in as few words as can be, and columns of bytes read as they are stored."""

from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from itertools import chain
from typing import Any, Final
from uuid import UUID

from django.db import connection
from django.db.models import Model

from server.core.chunks import chunks

ROWS_AT_A_TIME: Final = 100


def write_together(*tables: Sequence[Model]) -> None:
    """Write new rows, those of one table after those of another. Every row brings its own key.

    PostgreSQL is told all of it in one statement, which costs half as much as one for each table.
    """
    filled = [rows for rows in tables if rows]
    if connection.vendor != "postgresql":
        for rows in filled:
            type(rows[0])._default_manager.bulk_create(rows)
    elif filled:
        *others, last = (_insert(type(rows[0])) for rows in filled)
        named = ", ".join(f"written_{number} AS ({insert})" for number, insert in enumerate(others))
        with connection.cursor() as cursor:
            cursor.execute(f"WITH {named} {last}" if named else last, [*_columns(filled)])
        for row in chain.from_iterable(filled):
            row._state.adding, row._state.db = False, connection.alias


@cache
def _insert(model: type[Model]) -> str:
    """The same words however many rows there are, so that the server can keep its plan for them."""
    fields = model._meta.concrete_fields
    table, *columns = map(connection.ops.quote_name, (model._meta.db_table, *(str(field.column) for field in fields)))
    # A length in the type would cut off what is too long, instead of refusing it.
    lists = [f"%s::{str(field.db_type(connection)).partition('(')[0]}[]" for field in fields]
    named, rows = ", ".join(columns), ", ".join(lists)
    return f"INSERT INTO {table} ({named}) SELECT * FROM unnest({rows})"  # noqa: S608 (names of the model)  # nosec B608


def _columns(tables: Iterable[Sequence[Model]]) -> Iterator[list[Any]]:
    for rows in tables:
        for field in rows[0]._meta.concrete_fields:
            yield [field.get_db_prep_save(field.pre_save(row, add=True), connection) for row in rows]


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
