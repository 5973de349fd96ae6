"""JSON from outside into the shape that is wanted, or a fault that points at what is not so."""

import re
from typing import Any, Final, TypeVar

import msgspec

from server.core.errors import Fault, Invalid

Shape = TypeVar("Shape")
UNREADABLE: Final = "This cannot be read as JSON in UTF-8; check that it is whole."

KINDS: Final = {
    "str": "text",
    "int": "a whole number",
    "float": "a number",
    "bool": "true or false",
    "object": "an object",
    "array": "a list",
    "datetime": "date and time",
    "null": "null",
}
A_FIELD: Final = {
    "Object missing required field": "This field is missing; add it.",
    "Object contains unknown field": "There is no such field; leave it out or correct its name.",
}
A_VALUE: Final = {"Invalid RFC3339 encoded datetime": "Write date and time as in 2031-01-17T08:00:00."}


def decoded(raw: bytes, shape: type[Shape], *, detail: str = "Nothing was done.", place: str = "#") -> Shape:
    """Read JSON; `place` is where it stands in the request, as a JSON pointer."""
    try:
        return msgspec.json.decode(raw, type=shape)
    except msgspec.ValidationError as error:
        raise Invalid(detail, faults=[_fault(error, place)]) from None
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        raise Invalid(detail, faults=[Fault(pointer=place, message=UNREADABLE)]) from None


def converted(content: Any, shape: type[Shape], *, detail: str = "Nothing was done.", place: str = "#") -> Shape:
    """The same for JSON that has been read already."""
    try:
        return msgspec.convert(content, shape)
    except msgspec.ValidationError as error:
        raise Invalid(detail, faults=[_fault(error, place)]) from None
    except UnicodeEncodeError:  # half a character, written as an escape, where something else than text is wanted
        raise Invalid(detail, faults=[Fault(pointer=place, message=UNREADABLE)]) from None


def _fault(error: msgspec.ValidationError, place: str) -> Fault:
    """What the decoder says, `… - at `$.wears[3].key``, in plain words and with its place as a JSON pointer."""
    said, _, where = str(error).partition(" - at `")
    steps = [place, *re.findall(r"[^.\[\]`$]+", where)]
    about, _, name = said.rstrip("`").partition(" `")
    if about in A_FIELD:
        return Fault(pointer="/".join([*steps, name]), message=A_FIELD[about])
    return Fault(pointer="/".join(steps), message=A_VALUE.get(said) or _of_another_kind(said) or f"{said}.")


def _of_another_kind(said: str) -> str | None:
    """For `Expected `str | null`, got `int``."""
    found = re.fullmatch("Expected `([^`]+)`, got `([^`]+)`", said)
    if found is None:
        return None
    wanted, got = (" or ".join(KINDS.get(kind, kind) for kind in kinds.split(" | ")) for kinds in found.groups())
    return f"This must be {wanted}, and is {got}."
