"""Every table has its row in an app's `rights.py`, and no row stands for a table that is gone."""

from importlib import import_module
from importlib.util import find_spec

import pytest
from django.apps import apps

from server.core.models import SensorModel
from server.core.register import ADDED, ANYTHING, READ, changed_in, rights_of_figures, rights_of_service
from server.editions.models import Place

OURS = [app for app in apps.get_app_configs() if app.name.startswith("server.") and list(app.get_models())]
# What the code guards against change itself: its `save` and `delete` raise.
FINAL = {"SensorModel", "Consent", "Protocol", "Decision", "Look", "Edition"}


def test_every_table_has_its_row_and_no_other():
    there = {model._meta.db_table for model in apps.get_models(include_auto_created=True)}
    named = set(rights_of_service())
    assert {"without a row": there - named, "gone": named - there} == {"without a row": set(), "gone": set()}


@pytest.mark.parametrize("app", OURS, ids=lambda app: app.label)
def test_every_app_speaks_of_its_own_tables(app):
    assert find_spec(f"{app.name}.rights"), f"{app.name} has tables and no rights.py"
    named = {name for name in import_module(f"{app.name}.rights").RIGHTS if "." not in name}
    assert named == {model.__name__ for model in app.get_models()}


def test_what_the_code_never_changes_the_database_keeps_too():
    for app in OURS:
        for name, rights in import_module(f"{app.name}.rights").RIGHTS.items():
            if name in FINAL:
                assert rights.change is False, name


def test_figures_may_do_nothing_that_the_service_may_not():
    of_service = rights_of_service()
    assert {table: set(rights) - set(of_service[table]) for table, rights in rights_of_figures().items()} == {
        table: set() for table in rights_of_figures()
    }


def test_rights_are_told_in_words_of_sql():
    assert READ.of(SensorModel) == ("SELECT",)
    assert ADDED.of(SensorModel) == ("SELECT", "INSERT")
    assert ANYTHING.of(SensorModel) == ("SELECT", "INSERT", "UPDATE", "DELETE")
    assert changed_in("record", "q1").of(Place) == ("SELECT", "INSERT", 'UPDATE ("record_id")', 'UPDATE ("q1")')
