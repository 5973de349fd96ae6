"""What the OpenAPI document says of every answer: the caution it carries and how errors look."""

from typing import Any

CAUTION = {
    "type": "object",
    "description": "The caution that stands with every result.",
    "properties": {"version": {"type": "integer"}, "text": {"type": "string"}},
    "required": ["version", "text"],
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
            },
        },
        "caution": {"$ref": "#/components/schemas/Caution"},
    },
    "required": ["type", "title", "status", "detail", "code", "caution"],
}


CAUTIONED = {
    "type": "object",
    "properties": {"caution": {"$ref": "#/components/schemas/Caution"}},
    "required": ["caution"],
}


def describe_every_answer(result: dict[str, Any], **_: Any) -> dict[str, Any]:
    """Add the caution to each JSON result, and to each operation the answer it gives when it was not done."""
    schemas = result.setdefault("components", {}).setdefault("schemas", {})
    schemas |= {"Caution": CAUTION, "Cautioned": CAUTIONED, "Problem": PROBLEM}
    answer = {
        "description": "The request was not done; the body says why and what to do.",
        "content": {"application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}},
    }
    for operations in result.get("paths", {}).values():
        for operation in operations.values():
            for done in operation["responses"].values():
                _add_caution(done.get("content", {}))
            operation["responses"].setdefault("default", answer)
    return result


def _add_caution(content: dict[str, dict[str, Any]]) -> None:
    if answer := content.get("application/json"):
        answer["schema"] = {"allOf": [answer.get("schema", {}), {"$ref": "#/components/schemas/Cautioned"}]}
