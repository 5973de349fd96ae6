"""The forms of each app's registers, which tests compare with the models.

`fields.py` says what every stored field is for. `rights.py` says what the service may do with every table where
PostgreSQL has separate accounts: what a table's row does not name, the database refuses to web and worker.
"""

from dataclasses import dataclass
from enum import StrEnum
from importlib import import_module
from importlib.util import find_spec
from types import ModuleType
from typing import NamedTuple

from django.apps import AppConfig, apps
from django.db.models import Model


class DataClass(StrEnum):
    """How much a value tells; health and identifying values reach no log, no export of others and no task argument."""

    PUBLIC = "public"
    INTERNAL = "internal"
    HEALTH = "health"
    IDENTIFYING = "identifying"


class Field(NamedTuple):
    """Why a field is kept, who reads it, until when, and how much it tells."""

    purpose: str
    reader: str
    retention: str
    data_class: DataClass


@dataclass(frozen=True, slots=True)
class Rights:
    """What may be done with the rows of a table, beside reading them; a change may be of some columns only."""

    add: bool = False
    change: bool | tuple[str, ...] = False
    drop: bool = False

    def of(self, model: type[Model]) -> tuple[str, ...]:
        """In words of SQL."""
        columns = self.change if isinstance(self.change, tuple) else ()
        may = {"SELECT": True, "INSERT": self.add, "UPDATE": self.change is True, "DELETE": self.drop}
        stored = {field.name: field.column for field in model._meta.concrete_fields}
        may |= {f'UPDATE ("{stored[column]}")': True for column in columns}
        return tuple(word for word, given in may.items() if given)


READ = Rights()
ADDED = Rights(add=True)  # append-only
ADDED_OR_DROPPED = Rights(add=True, drop=True)  # a row goes as it came
ADDED_OR_CHANGED = Rights(add=True, change=True)
ANYTHING = Rights(add=True, change=True, drop=True)


def changed_in(*columns: str) -> Rights:
    """Append-only, but for these columns."""
    return Rights(add=True, change=columns)


def every_field() -> dict[str, dict[str, Field]]:
    """What each app stores, by the app's name."""
    return {label: dict(module.FIELDS) for label, module in _modules("fields").items()}


def rights_of_service() -> dict[str, tuple[str, ...]]:
    """What web, worker and sweep do with each table."""
    return _rights("RIGHTS")


def rights_of_figures() -> dict[str, tuple[str, ...]]:
    """What may be done while figures are worked out; a table that is not in it is out of reach."""
    return _rights("FIGURES")


def _rights(register: str) -> dict[str, tuple[str, ...]]:
    found = {}
    for label, module in _modules("rights").items():
        for name, rights in getattr(module, register).items():
            model = apps.get_model(name if "." in name else f"{label}.{name}")
            found[model._meta.db_table] = rights.of(model)
    return found


def our_models(*, joining: bool = False) -> list[type[Model]]:
    """The models of our apps; with those that Django makes to join two others, where that is asked."""
    return [model for app in _our_apps() for model in app.get_models(include_auto_created=joining)]


def _modules(name: str) -> dict[str, ModuleType]:
    """The module of this name of each of our apps that has one."""
    return {app.label: import_module(f"{app.name}.{name}") for app in _our_apps() if find_spec(f"{app.name}.{name}")}


def _our_apps() -> list[AppConfig]:
    return [app for app in apps.get_app_configs() if app.name.startswith("server.")]
