"""What the OpenAPI document says of every answer: the caution it carries, and each way in which a call is refused.

What follows from a call itself is worked out here: one that takes a token can be told 401, one that takes a body 413,
one whose address names something 404. What else it refuses stands at the call, by `refuses`. No other status is
answered: there is no default answer, and `tests/contract` looks for one that is not described.
"""

from collections.abc import Callable, Iterator
from typing import Any, Final, TypeVar

from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import extend_schema_field
from rest_framework.fields import DictField
from rest_framework.serializers import Serializer

from server.api.parsing import RawJSONParser
from server.api.rendering import FormatInAddress
from server.core.errors import Busy, ServiceError
from server.core.middleware import REQUEST_ID
from server.core.problems import MEDIA_TYPE
from server.wears.selectors import record_schema_document

Method = TypeVar("Method", bound=Callable[..., Any])
CAUTION = {
    "type": "object",
    "description": "The caution that stands with every result.",
    "properties": {"version": {"type": "integer"}, "text": {"type": "string"}},
    "required": ["version", "text"],
    "additionalProperties": False,
}
PROBLEM = {
    "type": "object",
    "description": "Problem details (RFC 9457); faults point at fields with JSON pointers.",
    "properties": {
        "type": {"type": "string"},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "detail": {"type": "string"},
        "code": {"type": "string"},
        "reason": {"type": "string", "description": "Of what was taken back (410): why, as a code."},
        "faults": {
            "type": "array",
            "items": {
                "type": "object",
                "properties": {
                    "pointer": {"type": "string"},
                    "code": {"type": "string"},
                    "message": {"type": "string"},
                },
                "required": ["pointer", "message"],
                "additionalProperties": False,
            },
        },
        "caution": {"$ref": "#/components/schemas/Caution"},
    },
    "required": ["type", "title", "status", "detail", "code", "caution"],
    "additionalProperties": False,
}
CAUTIONED = {
    "type": "object",
    "properties": {"caution": {"$ref": "#/components/schemas/Caution"}},
    "required": ["caution"],
}
WEAR_RECORD: Final = {"$ref": "#/components/schemas/WearRecord"}
# Each refusal: when it comes, and the header that comes with it.
REFUSALS: Final = {
    400: ("The body cannot be read.", None),
    401: ("No token, one that has ended, or words that are not right.", "WWW-Authenticate"),
    403: ("You can see it but may not do this.", None),
    404: ("Hidden, empty or not yours.", None),
    406: ("The answer comes in another media type than those asked for.", None),
    409: ("Not in the present state.", None),
    410: ("It was here and was taken back; reason says why.", None),
    413: ("The body is too large.", None),
    415: ("The body comes in a media type that the call does not take.", None),
    422: ("What was sent has faults; where they can be pointed at, faults does.", None),
    429: ("Too many tries; wait.", "Retry-After"),
    500: ("Something of ours broke; nothing was stored.", None),
    503: ("More requests are under way than can be answered; nothing was done. Try again.", "Retry-After"),
}
HEADERS: Final = {
    "WWW-Authenticate": {"description": "How to sign in.", "schema": {"type": "string", "const": "Bearer"}},
    "Retry-After": {"description": "Seconds to wait.", "schema": {"type": "integer", "minimum": 1}},
    REQUEST_ID: {
        "description": "By this word the operator finds the request in the log.",
        "schema": {"type": "string", "minLength": 1},
    },
}


@extend_schema_field(WEAR_RECORD)
class WearRecordField(DictField):
    """A wear record within another body; it has a reader of its own."""


def refuses(*errors: type[ServiceError]) -> Callable[[Method], Method]:
    """Say of a call how it can be refused, beyond what follows from its address, its body and its token."""

    def decorator(method: Method) -> Method:
        method.refusals = frozenset(error.status for error in errors)  # type: ignore[attr-defined]
        return method

    return decorator


def takes(serializer: type[Serializer[Any]]) -> Callable[[Method], Method]:
    """Say which body a DELETE takes: `extend_schema` describes none there."""

    def decorator(method: Method) -> Method:
        method.body = serializer  # type: ignore[attr-defined]
        return method

    return decorator


class Described(AutoSchema):
    """An operation with every answer that it can give."""

    def get_operation(self, *args: Any, **kwargs: Any) -> Any:
        operation = super().get_operation(*args, **kwargs)
        if operation is not None:
            if body := self._told("body", None):
                content = {"application/json": {"schema": self.resolve_serializer(body, "request").ref}}
                operation["requestBody"] = {"content": content, "required": True}
            if any(
                one["schema"] == WEAR_RECORD for one in operation.get("requestBody", {}).get("content", {}).values()
            ):
                operation["requestBody"]["required"] = True
            for answer in operation["responses"].values():
                answer["headers"] = answer.get("headers", {}) | _headers(REQUEST_ID)
                if not self._gives_files:
                    _add_caution(answer.get("content", {}))
            for status in sorted(set(self._statuses(operation))):
                operation["responses"][str(status)] = {"$ref": f"#/components/responses/Refused{status}"}
        return operation

    @property
    def _gives_files(self) -> bool:
        """Whether what it answers goes out as it is kept or drawn, and is described as it is."""
        return issubclass(self.view.content_negotiation_class, FormatInAddress)

    def _map_serializer(self, serializer: Any, direction: Any, bypass_extensions: bool = False) -> Any:
        schema = super()._map_serializer(serializer, direction, bypass_extensions)
        if direction == "request" and getattr(serializer, "refuses_unknown", False):
            schema["additionalProperties"] = False
        return schema

    def _told(self, name: str, otherwise: Any) -> Any:
        """What stands at the method of the view."""
        return getattr(getattr(self.view, self.method.lower()), name, otherwise)

    def _statuses(self, operation: dict[str, Any]) -> Iterator[int]:
        yield from self._told("refusals", ())
        yield from (500, Busy.status)
        if any("bearer" in way for way in operation.get("security", ())):
            yield 401
        if any(parameter["in"] == "path" for parameter in operation.get("parameters", ())):
            yield 404
        if not self._gives_files:
            yield 406
        if "requestBody" in operation:
            yield from (413, 415, 422)
            if list(self.view.parser_classes) != [RawJSONParser]:
                yield 400


def describe_what_all_share(result: dict[str, Any], **_: Any) -> dict[str, Any]:
    """Add what answers refer to: the caution, the refusals and their headers."""
    components = result.setdefault("components", {})
    components["schemas"] = components.get("schemas", {}) | {
        "Caution": CAUTION,
        "Cautioned": CAUTIONED,
        "Problem": PROBLEM,
    }
    components["schemas"] |= dict(_wear_record())
    components["headers"] = {name: {"required": True, **header} for name, header in HEADERS.items()}
    components["responses"] = {f"Refused{status}": _refusal(*told) for status, told in REFUSALS.items()}
    return result


def _wear_record() -> Iterator[tuple[str, Any]]:
    """The schema of a wear record and its parts, without what it says beside: that stands in the schema itself."""

    def carried_over(part: Any) -> Any:
        if isinstance(part, list):
            return [carried_over(one) for one in part]
        if not isinstance(part, dict):
            return part
        if "$ref" in part:
            return {"$ref": _record_part(part["$ref"].rpartition("/")[2])}
        return {name: carried_over(inner) for name, inner in part.items() if not name.startswith("x-")}

    for name, part in record_schema_document()["$defs"].items():
        yield _record_part(name).rpartition("/")[2], carried_over(part)


def _record_part(name: str) -> str:
    return f"#/components/schemas/WearRecord{name.removeprefix('WearRecord')}"


def _refusal(description: str, header: str | None) -> dict[str, Any]:
    return {
        "description": description,
        "headers": _headers(REQUEST_ID, *([header] if header else [])),
        "content": {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}},
    }


def _headers(*names: str) -> dict[str, Any]:
    return {name: {"$ref": f"#/components/headers/{name}"} for name in names}


def _add_caution(content: dict[str, dict[str, Any]]) -> None:
    """A result holds what is described and its caution, and nothing else."""
    if answer := content.get("application/json"):
        described = [answer.get("schema", {}), {"$ref": "#/components/schemas/Cautioned"}]
        answer["schema"] = {"allOf": described, "unevaluatedProperties": False}
