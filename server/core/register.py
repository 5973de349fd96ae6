"""The form in which each app's `fields.py` says what every stored field is for; a test compares it with the models."""

from enum import StrEnum
from importlib import import_module
from importlib.util import find_spec
from typing import NamedTuple

from django.apps import apps


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


def every_field() -> dict[str, dict[str, Field]]:
    """What each app stores, by the app's name."""
    ours = [app for app in apps.get_app_configs() if app.name.startswith("server.") and find_spec(f"{app.name}.fields")]
    return {app.label: dict(import_module(f"{app.name}.fields").FIELDS) for app in ours}
