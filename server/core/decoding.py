"""JSON from outside into the shape that is wanted, or a fault that points at what is not so."""

import re
from typing import Any, TypeVar

import msgspec

from server.core.errors import Fault, Invalid

Shape = TypeVar("Shape")


def decoded(raw: bytes, shape: type[Shape], *, detail: str = "Nothing was done.", place: str = "#") -> Shape:
    """Read JSON; `place` is where it stands in the request, as a JSON pointer."""
    try:
        return msgspec.json.decode(raw, type=shape)
    except msgspec.ValidationError as error:
        raise Invalid(detail, faults=[_fault(error, place)]) from None
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        message = "This cannot be read as JSON in UTF-8; check that it is whole."
        raise Invalid(detail, faults=[Fault(pointer=place, message=message)]) from None


def converted(content: Any, shape: type[Shape], *, detail: str = "Nothing was done.", place: str = "#") -> Shape:
    """The same for JSON that has been read already."""
    try:
        return msgspec.convert(content, shape)
    except msgspec.ValidationError as error:
        raise Invalid(detail, faults=[_fault(error, place)]) from None


def _fault(error: msgspec.ValidationError, place: str) -> Fault:
    """What the decoder says, `… - at `$.wears[3].key``, with its place as a JSON pointer."""
    message, _, where = str(error).partition(" - at `")
    steps = re.findall(r"[^.\[\]`$]+", where)
    return Fault(pointer="/".join([place, *steps]), message=f"{message}.")
