"""Problem details as in RFC 9457, pointers as in RFC 6901."""

import pytest
from django.http import Http404
from django.test import RequestFactory
from rest_framework import exceptions

from server.api import problems
from server.core import errors


def answered(error):
    return problems.answer_problem(error, {})


@pytest.mark.parametrize(
    ("error", "status", "code"),
    [
        (errors.Conflict("It is waiting."), 409, "conflict"),
        (errors.NotFound(), 404, "not-found"),
        (Http404("No Wear matches the given query."), 404, "not-found"),
        (exceptions.NotAuthenticated(), 401, "not-authenticated"),
        (exceptions.ParseError(), 400, "parse-error"),
        (exceptions.MethodNotAllowed("PUT"), 405, "method-not-allowed"),
        (exceptions.UnsupportedMediaType("text/plain"), 415, "unsupported-media-type"),
    ],
)
def test_every_error_on_purpose_has_the_five_members(error, status, code):
    answer = answered(error)
    assert answer.status_code == answer.data["status"] == status
    assert answer.data["code"] == code
    assert all(answer.data[member] for member in ("type", "title", "detail"))
    assert answer.content_type == "application/problem+json"


def test_hidden_empty_and_not_yours_look_alike():
    hidden, missing = (
        answered(errors.NotFound("There is nothing here that is open to you.")),
        answered(Http404("Wear 7")),
    )
    assert hidden.data == missing.data


def test_a_fault_deep_inside_is_pointed_at():
    error = exceptions.ValidationError(
        {"pairs": [{}, {"sensor": ["A number."]}], "non_field_errors": ["Both or none."]}
    )
    assert answered(error).data["faults"] == [
        {"pointer": "#/pairs/1/sensor", "message": "A number."},
        {"pointer": "#", "message": "Both or none."},
    ]


def test_what_nobody_raised_on_purpose_tells_nothing():
    assert answered(ZeroDivisionError("reference 112")) is None
    answer = problems.answer_unexpected(RequestFactory().get("/api/v1/wears/"))
    assert answer.status_code == 500
    assert answer["Content-Type"] == "application/problem+json"


@pytest.mark.django_db
def test_a_broken_page_says_so_with_the_caution():
    answer = problems.answer_unexpected(RequestFactory().get("/groups/"))
    assert answer.status_code == 500
    assert b"Traceback" not in answer.content


@pytest.mark.django_db
@pytest.mark.parametrize("method", ["get", "post", "delete"])
def test_an_address_that_is_none_is_a_problem_too(api, method):
    answer = getattr(api, method)("/api/v1/members")
    assert answer.status_code == 404
    assert "slash" in answer.json()["detail"]
