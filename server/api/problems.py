"""Problem details (RFC 9457) for every error of the API, with JSON pointers to the fields at fault."""

from collections.abc import Mapping
from http import HTTPStatus
from typing import Any, NoReturn

from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from drf_spectacular.utils import extend_schema
from rest_framework import exceptions
from rest_framework.permissions import AllowAny
from rest_framework.response import Response
from rest_framework.views import APIView, set_rollback

from server.core.errors import Fault, Invalid, NotFound, ServiceError
from server.core.problems import MEDIA_TYPE, headers_of, problem, problem_of
from server.core.selectors import caution_paragraphs


def answer_problem(error: Exception, _context: Mapping[str, Any]) -> Response | None:
    """Turn an error into problem details; one that nobody raised on purpose goes on and becomes a plain 500."""
    body = _body_of(error)
    if body is None:
        return None
    set_rollback()
    headers = headers_of(error)
    if body["status"] == HTTPStatus.UNAUTHORIZED:
        headers["WWW-Authenticate"] = "Bearer"
    return Response(body, status=body["status"], headers=headers, content_type=MEDIA_TYPE)


def _body_of(error: Exception) -> dict[str, Any] | None:
    if isinstance(error, ServiceError):
        return problem_of(error)
    if isinstance(error, Http404):
        return problem(NotFound.status, NotFound.code, NotFound.title, "There is nothing here that is open to you.")
    if isinstance(error, exceptions.ValidationError):
        return problem(Invalid.status, Invalid.code, Invalid.title, "Nothing was done.", _faults("#", error.detail))
    if isinstance(error, exceptions.APIException):
        code = str(error.default_code).replace("_", "-")
        return problem(error.status_code, code, code.replace("-", " ").capitalize(), str(error.detail))
    return None


def _faults(pointer: str, detail: Any) -> list[Fault]:
    """Each fault of a serializer with the JSON pointer of its field."""
    if isinstance(detail, Mapping):
        return [
            fault
            for key, inner in detail.items()
            for fault in _faults(pointer if key == "non_field_errors" else f"{pointer}/{key}", inner)
        ]
    if isinstance(detail, list):
        return [
            fault
            for index, inner in enumerate(detail)
            for fault in _faults(
                f"{pointer}/{index}" if isinstance(inner, Mapping | list) and inner else pointer, inner
            )
        ]
    return [Fault(pointer=pointer, message=str(detail))]


def answer_unexpected(request: HttpRequest) -> HttpResponse:
    """Say that something of ours broke, and nothing else."""
    if request.path.startswith("/api/"):
        body = problem(500, "unexpected", "Something of ours broke", "Nothing was stored. Try again later.")
        return JsonResponse(body, status=500, content_type=MEDIA_TYPE)
    return render(request, "errors/500.html", {"caution": caution_paragraphs()}, status=500)


@extend_schema(exclude=True)
class Nothing(APIView):
    """Any address of the API that is none."""

    authentication_classes = ()
    permission_classes = (AllowAny,)

    def http_method_not_allowed(self, request: Any, *args: Any, **kwargs: Any) -> NoReturn:
        raise NotFound("The API has no such address. Each ends with a slash; GET /api/v1/schema/ lists them.")
