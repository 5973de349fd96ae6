"""Sums only: while figures are worked out and published, the database itself refuses every table that knows people.

The code there asks for no such table, and import contracts keep it so; this holds where a contract ends, in a query. On
SQLite the connection authorises each column it is asked for. On PostgreSQL the session takes a role that was granted
these tables and no others (`python -m server fitrole`); where no role is named, statements are looked at by the names
in them.
"""

import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from types import MappingProxyType
from typing import Any, Final

from django.apps import apps
from django.conf import settings
from django.db import DatabaseError, connection

READ: Final = ("SELECT",)
OWN: Final = ("SELECT", "INSERT", "UPDATE", "DELETE")
# What figures are made of and written to; whatever is not here is out of reach, tables of later versions too.
WITHIN_REACH: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        "groups.Group": READ,
        "groups.Protocol": READ,
        "core.SensorModel": READ,
        "core.Job": ("SELECT", "INSERT"),
    }
)
_TOUCHES: Final = (sqlite3.SQLITE_READ, sqlite3.SQLITE_INSERT, sqlite3.SQLITE_UPDATE, sqlite3.SQLITE_DELETE)


class OutOfReach(DatabaseError):
    """A query for a table that knows people, from where only sums may be seen."""


def granted() -> dict[str, tuple[str, ...]]:
    """What may be done to which table behind the wall."""
    own = {model._meta.db_table: OWN for model in apps.get_app_config("editions").get_models()}
    return own | {apps.get_model(label)._meta.db_table: rights for label, rights in WITHIN_REACH.items()}


def out_of_reach() -> frozenset[str]:
    every = {model._meta.db_table for model in apps.get_models(include_auto_created=True)}
    return frozenset(every - set(granted()))


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


def grants(role: str) -> list[str]:
    """The statements that make the role for PostgreSQL, or bring it to the present tables."""
    name = connection.ops.quote_name(role)
    literal = role.replace("'", "''")
    absent = f"NOT EXISTS (SELECT FROM pg_roles WHERE rolname = '{literal}')"  # (quoted)  # nosec B608
    make = f"IF {absent} THEN CREATE ROLE {name} NOLOGIN; END IF;"
    return [
        f"DO $$ BEGIN {make} END $$",
        f"GRANT {name} TO CURRENT_USER",
        f"REVOKE ALL ON ALL TABLES IN SCHEMA public FROM {name}",
        f"GRANT USAGE ON SCHEMA public TO {name}",
        *(
            f"GRANT {', '.join(rights)} ON {connection.ops.quote_name(table)} TO {name}"
            for table, rights in sorted(granted().items())
        ),
    ]


def make_role(role: str) -> None:
    with connection.cursor() as cursor:
        for statement in grants(role):
            cursor.execute(statement)
