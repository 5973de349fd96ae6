"""Log lines that say where something failed and never with which values.

A line is one line: words for a person, or JSON for a program. It carries the id of the request, or of the job, that it
was written for, so that what one request led to can be found on any machine. Ids are random and name nobody.
"""

import json
import logging
import secrets
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import UTC, datetime
from types import TracebackType

ID_DIGITS = 16
LONGEST_MESSAGE = 500
_request: ContextVar[str] = ContextVar("request", default="")
_job: ContextVar[str] = ContextVar("job", default="")
Raised = tuple[type[BaseException], BaseException, TracebackType | None] | tuple[None, None, None]


def new_id() -> str:
    return secrets.token_hex(ID_DIGITS // 2)


def request_id() -> str:
    """The request that is being answered, or that asked for the job at hand; empty where there is none."""
    return _request.get()


@contextmanager
def about(*, request: str, job: str = "") -> Iterator[None]:
    """What is logged within carries these ids."""
    tokens = _request.set(request), _job.set(job)
    try:
        yield
    finally:
        _request.reset(tokens[0])
        _job.reset(tokens[1])


def _message(record: logging.LogRecord) -> str:
    """What happened. A library may put into its words what somebody sent: of those, only the fixed words are kept."""
    if _is_ours(record.name):
        return record.getMessage()[:LONGEST_MESSAGE]
    if record.name.startswith("django") and not record.args:
        return "told by Django"
    return str(record.msg)[:LONGEST_MESSAGE]


def _route(record: logging.LogRecord) -> str:
    """The pattern of the address that was asked for, where Django tells of a request; never the address."""
    match = getattr(getattr(record, "request", None), "resolver_match", None)
    return f"/{match.route}" if match is not None else ""


def _is_ours(name: str) -> bool:
    return name == "server" or name.startswith("server.")


def _places(raised: Raised) -> list[str]:
    _, _, trace = raised
    return [f"{frame.filename}:{frame.lineno} in {frame.name}" for frame in traceback.extract_tb(trace)]


def _kind(raised: Raised) -> str:
    kind = raised[0]
    return "" if kind is None else f"{kind.__module__}.{kind.__qualname__}"


class WithoutValues(logging.Formatter):
    """Formats an exception as its type and the places it came through.

    The message of an exception often quotes a row or a body (a unique constraint does), and those hold health data.
    """

    def __init__(self) -> None:
        super().__init__("%(asctime)s %(levelname)s %(name)s: %(message)s")

    def format(self, record: logging.LogRecord) -> str:
        ids = "".join(f" [{name} {held}]" for name, held in (("request", _request.get()), ("job", _job.get())) if held)
        line = f"{self.formatTime(record)} {record.levelname} {record.name}: {_escaped(_message(record))}{ids}"
        if record.exc_info and record.exc_info[0] is not None:
            return f"{line}\n{self.formatException(record.exc_info)}"
        return line

    def formatException(self, ei: Raised) -> str:  # noqa: N802 (the name is logging's)
        if ei[0] is None:
            return ""
        return "\n".join(f"  {line}" for line in [*_places(ei), _kind(ei)])


class InJson(logging.Formatter):
    """One JSON object a line: when, what and where; docs/OPERATIONS.md names its fields."""

    def format(self, record: logging.LogRecord) -> str:
        line: dict[str, object] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "message": _message(record),
        }
        if route := _route(record):
            line["route"] = route
        line |= {name: held for name, held in (("request", _request.get()), ("job", _job.get())) if held}
        if record.exc_info and record.exc_info[0] is not None:
            line |= {"fault": _kind(record.exc_info), "places": _places(record.exc_info)}
        return json.dumps(line)


def _escaped(text: str) -> str:
    """On one line, whatever it holds."""
    return text.encode("unicode_escape").decode("ascii")
