import json
import re

import pytest
from django.http import Http404
from django.test import RequestFactory

from server.core.errors import Conflict, NotFound
from server.web.middleware import NOTHING_OPEN, ErrorsInWords, error_page, page_not_found


def test_a_refusal_becomes_a_page_with_its_status(db):
    answer = error_page(RequestFactory().get("/"), Conflict("Not before tomorrow."))
    assert answer.status_code == 409
    assert "Not before tomorrow." in answer.content.decode()


def test_what_nobody_raised_on_purpose_goes_on():
    assert ErrorsInWords(lambda _: None).process_exception(RequestFactory().get("/"), KeyError("x")) is None


def _seen(answer):
    """The page without the token that guards its form, which is new each time."""
    return re.sub(rb'csrfmiddlewaretoken" value="[^"]+"', b"", answer.content)


def test_hidden_and_missing_are_the_same_page(db):
    request = RequestFactory().get("/")
    missing = page_not_found(request, Exception())
    hidden = ErrorsInWords(lambda _: None).process_exception(request, Http404())
    refused = ErrorsInWords(lambda _: None).process_exception(request, NotFound(NOTHING_OPEN))
    assert _seen(missing) == _seen(hidden) == _seen(refused)


def test_the_api_keeps_its_own_answers(client, db):
    answer = client.get("/api/v1/groups/nobody/")
    assert answer["Content-Type"] == "application/problem+json"
    assert json.loads(answer.content)["status"] == 404


def test_an_address_that_takes_forms_alone_says_so_in_words(client, db):
    answer = client.get("/sign-out/")
    assert (answer.status_code, answer["Allow"]) == (405, "POST")
    assert "It is reached by sending a form" in answer.content.decode()
    assert client.get("/api/v1/members/")["Content-Type"] == "application/problem+json"


@pytest.mark.parametrize("address", ["/", "/sign-in/", "/api/v1/members/", "/health/live", "/metrics"])
def test_nothing_that_was_sent_comes_back_by_trace(client, db, address):
    answer = client.trace(address, headers={"X-Canary": "quiet-otter-12345"})
    assert answer.status_code >= 400
    assert b"otter" not in answer.content
