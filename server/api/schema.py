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


def describe_every_answer(result: dict[str, Any], **_: Any) -> dict[str, Any]:
    """Add the problem answer to each operation, and the two shapes to the components."""
    schemas = result.setdefault("components", {}).setdefault("schemas", {})
    schemas |= {"Caution": CAUTION, "Problem": PROBLEM}
    answer = {
        "description": "The request was not done; the body says why and what to do.",
        "content": {"application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}},
    }
    for operations in result.get("paths", {}).values():
        for operation in operations.values():
            if isinstance(operation, dict) and "responses" in operation:
                operation["responses"].setdefault("default", answer)
    return result
