import json
import logging
import sys

import pytest

from server.core import logs
from server.core.logs import InJson, WithoutValues


def raised(name="server.test", message="job %s failed", *args, **extra):
    """A record of an error whose own message quotes a reading and a name."""
    log = logging.getLogger(name)
    try:
        raise ValueError("reference 112 mg/dL of quiet-otter-12345")
    except ValueError:
        return log.makeRecord(log.name, logging.ERROR, "", 1, message, args, exc_info=sys.exc_info(), extra=extra)


def test_a_line_names_the_error_and_the_place_and_no_value():
    line = WithoutValues().format(raised("server.test", "job %s failed", "7"))
    assert "job 7 failed" in line
    assert "builtins.ValueError" in line
    assert "test_logs.py" in line
    assert "112" not in line
    assert "otter" not in line


def test_a_line_for_programs_says_the_same_with_the_ids_it_was_written_for():
    with logs.about(request="ab12", job="cd34"):
        line = InJson().format(raised("server.test", "job %s failed", "7"))
    told = json.loads(line)
    assert (told["level"], told["logger"], told["message"]) == ("error", "server.test", "job 7 failed")
    assert (told["request"], told["job"], told["fault"]) == ("ab12", "cd34", "builtins.ValueError")
    assert all("test_logs.py" in place for place in told["places"])
    assert "otter" not in line
    assert "request" not in json.loads(InJson().format(raised())), "what comes afterwards is not of that request"


@pytest.mark.parametrize("formatter", [WithoutValues(), InJson()])
@pytest.mark.parametrize(
    ("name", "message", "args"),
    [
        ("django.request", "Not Found: %s", ("/wears/quiet-otter-12345/",)),
        ("django.security.DisallowedHost", "Invalid HTTP_HOST header: 'quiet-otter-12345'", ()),
        ("psycopg.pool", "error connecting in %r: %s", ("pool-1", "quiet-otter-12345")),
    ],
)
def test_of_what_libraries_say_only_their_own_words_are_kept(formatter, name, message, args):
    assert "otter" not in formatter.format(raised(name, message, *args))


@pytest.mark.parametrize("formatter", [WithoutValues(), InJson()])
def test_nobody_can_begin_a_line_of_their_own(formatter):
    record = logging.getLogger("server.test").makeRecord("server.test", logging.ERROR, "", 1, "%s", ("a\nb",), None)
    assert "\n" not in formatter.format(record)


def test_a_request_under_a_foreign_name_is_refused_without_a_line(client, caplog):
    assert client.get("/health/live", headers={"host": "quiet-otter.example"}).status_code == 400
    assert not caplog.records
