"""The form in which each app's `fields.py` says what every stored field is for; a test compares it with the models."""

from enum import StrEnum
from typing import NamedTuple


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
