"""Sums only: while figures are worked out and published, the database itself refuses every table that knows people.

The code there asks for no such table, and import contracts keep it so; this holds where a contract ends, in a query. On
SQLite the connection authorises each column it is asked for. On PostgreSQL the session takes a role that was granted
these tables and no others (`python -m server grants`); where no role is named, statements are looked at by the names
in them.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any, Final

from django.apps import apps
from django.conf import settings
from django.db import DatabaseError, connection

from server.core.register import rights_of_figures

_TOUCHES: Final = (sqlite3.SQLITE_READ, sqlite3.SQLITE_INSERT, sqlite3.SQLITE_UPDATE, sqlite3.SQLITE_DELETE)


class OutOfReach(DatabaseError):
    """A query for a table that knows people, from where only sums may be seen."""


def out_of_reach() -> frozenset[str]:
    """Every table that no app's `rights.py` names for figures, those of later versions too."""
    every = {model._meta.db_table for model in apps.get_models(include_auto_created=True)}
    return frozenset(every - set(rights_of_figures()))


@contextmanager
def sums_only() -> Iterator[None]:
    """Let nothing be read or written but sums, drafts, editions and what they rest on."""
    connection.ensure_connection()
    if connection.vendor == "sqlite":
        wall = _authorised()
    else:
        wall = _in_role(settings.FIT_ROLE) if settings.FIT_ROLE else _by_name()
    with wall:
        yield


@contextmanager
def _authorised() -> Iterator[None]:
    refused = out_of_reach()

    def authorise(action: int, table: str | None, *_: Any) -> int:
        return sqlite3.SQLITE_DENY if action in _TOUCHES and table in refused else sqlite3.SQLITE_OK

    own = connection.connection
    own.set_authorizer(authorise)
    try:
        yield
    finally:
        own.set_authorizer(None)


@contextmanager
def _in_role(role: str) -> Iterator[None]:
    _execute(f"SET ROLE {connection.ops.quote_name(role)}")
    try:
        yield
    finally:
        if connection.in_atomic_block:
            # In a transaction that has failed nothing can be said any more; its end takes the role away too.
            with suppress(DatabaseError):
                _execute("RESET ROLE")
        else:
            _execute("RESET ROLE")


def _execute(statement: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement)


@contextmanager
def _by_name() -> Iterator[None]:
    refused = {connection.ops.quote_name(table) for table in out_of_reach()}

    def look(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        if any(name in sql for name in refused):
            raise OutOfReach("only sums can be seen from here")
        return execute(sql, params, many, context)

    with connection.execute_wrapper(look):
        yield
