"""Problem details (RFC 9457): the body of every refusal that a program gets."""

from collections.abc import Sequence
from typing import Any

from django.http import JsonResponse

from server.core.errors import Busy, Fault, Gone, ServiceError, TooMany
from server.core.selectors import caution

MEDIA_TYPE = "application/problem+json"


def problem(status: int, code: str, title: str, detail: str, faults: Sequence[Fault] = ()) -> dict[str, Any]:
    body: dict[str, Any] = {
        "type": f"/problems/{code}",
        "title": title,
        "status": status,
        "detail": detail,
        "code": code,
    }
    if faults:
        body["faults"] = list(faults)
    return body | {"caution": caution()}


def problem_of(error: ServiceError) -> dict[str, Any]:
    body = problem(error.status, error.code, error.title, error.detail, error.faults)
    return body | {"reason": error.reason} if isinstance(error, Gone) else body


def headers_of(error: Exception) -> dict[str, str]:
    """When to come back, of what can be tried again."""
    return {"Retry-After": str(error.retry_after_s)} if isinstance(error, TooMany | Busy) else {}


def answer_of(error: ServiceError) -> JsonResponse:
    """The whole answer, for what is refused before the API has a say."""
    return JsonResponse(problem_of(error), status=error.status, content_type=MEDIA_TYPE, headers=headers_of(error))
