"""No table of ours has the hidden column in which SQLite numbers rows as they come in."""

import pytest
from django.apps import apps
from django.db import DatabaseError, connection, transaction
from django.db.models import AutoField

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
