"""A report of an error that happened with a reading in every place where one could lie."""

import logging
import sys

import pytest
from django.core import mail
from django.test import RequestFactory
from django.utils.log import AdminEmailHandler
from django.views.debug import ExceptionReporter, technical_500_response

from server.core.reporting import PlacesOnly
from tests.server.canaries import found_in, reading

READING = 217.31
CANARIES = (reading(READING),)


def failing_request():
    """A request whose body, header and address, local variables and error hold a reading; and its error."""
    request = RequestFactory().post(f"/api/v1/wears/?v={READING}", {"reference": READING}, HTTP_NOTE=str(READING))
    local = {"reference": READING}
    try:
        raise ValueError(f"cannot take {local['reference']}")
    except ValueError:
        return request, sys.exc_info()


def handler(reporter=None):
    handler = AdminEmailHandler(include_html=True, reporter_class=reporter)
    handler.setFormatter(logging.Formatter("%(message)s"))
    return handler


def report(reporter=None):
    request, error = failing_request()
    record = logging.LogRecord("django.request", logging.ERROR, __file__, 1, "it failed", (), error)
    record.request = request
    handler(reporter).emit(record)
    (sent,) = mail.outbox
    return "".join([sent.subject, sent.body, *(content for content, _ in sent.alternatives)])


@pytest.fixture
def operator(settings):
    settings.ADMINS = [("Operator", "operator@pool.example")]


def test_a_mail_says_where_and_not_what(operator):
    text = report()
    assert "in failing_request" in text
    assert "builtins.ValueError" in text
    assert found_in(text.encode(), CANARIES) == []


def test_the_usual_reporter_would_have_said_it(operator):
    text = report("django.views.debug.ExceptionReporter")
    assert found_in(text.encode(), CANARIES)


def test_the_page_for_developing_says_no_more(settings):
    settings.DEBUG = True
    request, error = failing_request()
    page = technical_500_response(request, *error).content
    assert b"in failing_request" in page
    assert found_in(page, CANARIES) == []


def test_without_an_error_there_is_nothing_to_tell(settings):
    assert settings.DEFAULT_EXCEPTION_REPORTER == "server.core.reporting.PlacesOnly"
    assert issubclass(PlacesOnly, ExceptionReporter)
    assert PlacesOnly(None, None, None, None).get_traceback_text() == ""
