"""No table of ours has the hidden column in which SQLite numbers rows as they come in."""

import os

import pytest
from django.apps import apps
from django.db import DatabaseError, connection, transaction
from django.db.models import AutoField
from django.db.utils import ConnectionHandler

OURS = [
    model
    for app in apps.get_app_configs()
    if app.name.startswith("server.")
    for model in app.get_models()
    if not isinstance(model._meta.pk, AutoField)
]


@pytest.mark.django_db
@pytest.mark.parametrize("model", OURS, ids=lambda model: model._meta.label)
def test_a_table_has_no_order_of_arrival(model):
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            with pytest.raises(DatabaseError, match="no such column: rowid"), transaction.atomic():
                cursor.execute(f"SELECT rowid FROM {model._meta.db_table}")
        else:
            cursor.execute(f"SELECT * FROM {model._meta.db_table} LIMIT 0")
            assert "oid" not in {column.name for column in cursor.description}


@pytest.mark.django_db
def test_rows_come_back_in_the_order_of_their_keys_whoever_came_first(new_member):
    from server.accounts.models import Account

    for _ in range(6):
        new_member()
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("SELECT id FROM accounts_account")
            found = [row[0] for row in cursor.fetchall()]
        assert found == sorted(found)
    assert Account.objects.count() == 6


def test_the_apps_whose_rows_are_numbered_name_nobody():
    """A running number is the order of arrival, where it is kept: only what has no owner may have one."""
    numbered = {
        model._meta.label
        for app in apps.get_app_configs()
        if app.name.startswith("server.")
        for model in app.get_models()
        if isinstance(model._meta.pk, AutoField)
    }
    assert numbered == {"core.Erasure"}


def test_a_database_file_is_for_its_owner_alone_wherever_it_is_made(tmp_path, django_db_blocker):
    file = tmp_path / "commonwear.sqlite3"
    told = {"ENGINE": "server.core.sqlite", "NAME": file, "OPTIONS": {"init_command": "PRAGMA journal_mode=WAL"}}
    before = os.umask(0o022)
    try:
        elsewhere = ConnectionHandler({"default": told})["default"]
        with django_db_blocker.unblock(), elsewhere.cursor() as cursor:
            cursor.execute("CREATE TABLE one (id INTEGER)")
            found = {path.name: path.stat().st_mode & 0o777 for path in tmp_path.iterdir()}
        elsewhere.close()
    finally:
        os.umask(before)
    assert found == {f"commonwear.sqlite3{end}": 0o600 for end in ("", "-wal", "-shm")}


def test_a_place_where_there_can_be_no_file_is_a_fault_of_the_database(tmp_path, django_db_blocker):
    nowhere = ConnectionHandler({"default": {"ENGINE": "server.core.sqlite", "NAME": tmp_path / "gone" / "file"}})
    with django_db_blocker.unblock(), pytest.raises(DatabaseError, match="unable to open"):
        nowhere["default"].ensure_connection()


def test_a_file_that_is_there_is_not_opened_beside_sqlite(tmp_path, django_db_blocker, monkeypatch):
    """To close a file ends every lock that the process has on it, those of other connections, too."""
    settings = {"ENGINE": "server.core.sqlite", "NAME": tmp_path / "file"}
    opened, plainly = [], os.open

    def telling(*told):
        opened.append(plainly(*told))
        return opened[-1]

    monkeypatch.setattr(os, "open", telling)
    with django_db_blocker.unblock():
        for n_opened in (1, 1):
            connections = ConnectionHandler({"default": settings})
            connections["default"].ensure_connection()
            connections["default"].close()
            assert len(opened) == n_opened
