"""Whether the API's description knows an answer: its status, its media type, its headers and its body."""

import json
import re
from functools import cache
from typing import Any, Final

import requests
import schemathesis
from django.urls import Resolver404
from drf_spectacular.generators import SchemaGenerator
from schemathesis.checks import load_all_checks, not_a_server_error
from schemathesis.core.failures import FailureGroup
from schemathesis.core.transport import Response
from schemathesis.specs.openapi import checks

load_all_checks()
CHECKS: Final = [
    not_a_server_error,
    checks.status_code_conformance,
    checks.content_type_conformance,
    checks.response_headers_conformance,
    checks.response_schema_conformance,
]


@cache
def described() -> schemathesis.BaseSchema:
    """The OpenAPI document that GET /api/v1/schema/ gives, as calls are made up from it."""
    document = SchemaGenerator().get_schema(request=None, public=True)  # type: ignore[no-untyped-call]
    return schemathesis.openapi.from_dict(json.loads(json.dumps(document, default=str)))


def complaints_of(answer: Any) -> list[str]:
    """What about an answer that a test client got is not as described; nothing of what is no call of the API."""
    try:
        route, named = answer.resolver_match.route, answer.resolver_match.kwargs
    except (AttributeError, Resolver404):
        return []
    method, path = answer.request["REQUEST_METHOD"], "/" + re.sub(r"<\w+:(\w+)>", r"{\1}", route)
    operation = described().find_operation_by_label(f"{method} {path}")
    if operation is None:
        return []
    headers = {name.lower(): [value] for name, value in answer.headers.items()}
    request = requests.Request(method, f"http://localhost{path}").prepare()
    response = Response(answer.status_code, headers, answer.content, request, 0.0, verify=False)
    case = operation.Case(path_parameters={name: str(value) for name, value in named.items()})
    try:
        case.validate_response(response, checks=CHECKS)
    except FailureGroup as group:
        return [f"{operation.label}: {failure.title}: {failure.message}" for failure in group.exceptions]
    return []
