"""SQLite as Django knows it, but with tables that keep no order of arrival, and with writers that take turns.

An ordinary table of SQLite numbers its rows as they come in, in a column that no model names. Here a table is kept in
the order of its primary key and has no such column (WITHOUT ROWID), unless its key is a running number by itself.

Whoever wants to write while another one does asks SQLite again and again, ever more seldom, and whoever asks at the
right moment is next: among four busy writers one was seen to wait for 18 seconds. Here they stand in a queue for the
moment at which a writer begins, so the one in front asks alone. Those who read never wait.
"""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any

from django.db.backends.sqlite3 import base, schema
from django.db.models import AutoField, Model

BEGIN_WRITING = ("BEGIN IMMEDIATE", "INSERT", "UPDATE", "DELETE", "REPLACE")


class DatabaseSchemaEditor(schema.DatabaseSchemaEditor):
    def table_sql(self, model: type[Model]) -> tuple[str, list[Any]]:
        sql, params = super().table_sql(model)
        return (sql if isinstance(model._meta.pk, AutoField) else f"{sql} WITHOUT ROWID"), params


class CursorInTurn(base.SQLiteCursorWrapper):
    """A cursor that waits for its turn where a statement would take the lock of all writers."""

    queue: str | None = None  # the file that writers queue at; a database in memory has one writer

    def execute(self, query: str, params: Any = None) -> Any:
        with self._turn(query):
            return super().execute(query, params)

    def executemany(self, query: str, param_list: Any) -> Any:
        with self._turn(query):
            return super().executemany(query, param_list)

    @contextmanager
    def _turn(self, query: str) -> Iterator[None]:
        if self.queue is None or self.connection.in_transaction or not query.lstrip().startswith(BEGIN_WRITING):
            yield
            return
        descriptor = os.open(self.queue, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX)
            yield
        finally:
            os.close(descriptor)


class DatabaseWrapper(base.DatabaseWrapper):
    SchemaEditorClass = DatabaseSchemaEditor

    def get_new_connection(self, conn_params: Any) -> Any:
        if not self.is_in_memory_db():
            # SQLite would make a file that everybody on the machine may read; what it puts beside it follows this one.
            # One that is there is not opened: to close it would end the locks of all connections of this process.
            with suppress(OSError):  # it is there; or there can be none, and SQLite says so in its own words
                os.close(os.open(self.settings_dict["NAME"], os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
        return super().get_new_connection(conn_params)

    def create_cursor(self, name: str | None = None) -> CursorInTurn:  # noqa: ARG002 (SQLite names none)
        cursor: CursorInTurn = self.connection.cursor(factory=CursorInTurn)
        if not self.is_in_memory_db():
            cursor.queue = f"{self.settings_dict['NAME']}-turn"
        return cursor
