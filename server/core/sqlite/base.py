"""SQLite as Django knows it, but with tables that keep no order of arrival.

An ordinary table of SQLite numbers its rows as they come in, in a column that no model names. Here a table is kept in
the order of its primary key and has no such column (WITHOUT ROWID), unless its key is a running number by itself.
"""

from typing import Any

from django.db.backends.sqlite3 import base, schema
from django.db.models import AutoField, Model


class DatabaseSchemaEditor(schema.DatabaseSchemaEditor):
    def table_sql(self, model: type[Model]) -> tuple[str, list[Any]]:
        sql, params = super().table_sql(model)
        return (sql if isinstance(model._meta.pk, AutoField) else f"{sql} WITHOUT ROWID"), params


class DatabaseWrapper(base.DatabaseWrapper):
    SchemaEditorClass = DatabaseSchemaEditor
