"""Every stored field has a purpose, a reader, a retention and a class, in its app's `fields.py`."""

from importlib import import_module
from importlib.util import find_spec

import pytest
from django.apps import apps
from django.db.models import ForeignKey, Model

from server.core.register import DataClass, Field

OURS = [app for app in apps.get_app_configs() if app.name.startswith("server.") and list(app.get_models())]
DATA = ("wears", "curation", "editions")
PEOPLE = ("accounts.", "groups.membership")


def stored(model: type[Model]) -> set[str]:
    return {f"{model.__name__}.{field.name}" for field in model._meta.concrete_fields}


@pytest.mark.parametrize("app", OURS, ids=lambda app: app.label)
def test_the_register_names_every_stored_field_and_no_other(app):
    assert find_spec(f"{app.name}.fields"), f"{app.name} stores fields and has no fields.py"
    registered = set(import_module(f"{app.name}.fields").FIELDS)
    in_database = set().union(*map(stored, app.get_models()))
    assert {"unregistered": in_database - registered, "stale": registered - in_database} == {
        "unregistered": set(),
        "stale": set(),
    }


@pytest.mark.parametrize("app", OURS, ids=lambda app: app.label)
def test_every_entry_says_something(app):
    for name, field in import_module(f"{app.name}.fields").FIELDS.items():
        assert isinstance(field, Field), name
        assert all(len(said.strip()) > 2 for said in field[:3]), name
        assert field.data_class in DataClass, name


@pytest.mark.parametrize("label", DATA)
def test_no_key_leads_from_data_to_people(label):
    found = {
        f"{model._meta.label}.{field.name}": field.related_model._meta.label_lower
        for model in apps.get_app_config(label).get_models()
        for field in model._meta.get_fields()
        if isinstance(field, ForeignKey)
    }
    assert {name: target for name, target in found.items() if target.startswith(PEOPLE)} == {}


@pytest.mark.parametrize("label", DATA)
def test_data_carries_no_account_no_wearer_and_no_clock_time(label):
    for model in apps.get_app_config(label).get_models():
        for field in model._meta.concrete_fields:
            assert "account" not in field.name, f"{model.__name__}.{field.name}"
            assert "wearer" not in field.name, f"{model.__name__}.{field.name}"
            assert field.get_internal_type() not in {"DateTimeField", "TimeField"}, f"{model.__name__}.{field.name}"
