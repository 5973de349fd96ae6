"""Reports of errors, on a page while developing or in a mail: where it happened, and never with which values."""

import sys
from types import TracebackType
from typing import Any

from django.http import HttpRequest
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.views.debug import ExceptionReporter

from server.core.logs import WithoutValues


class PlacesOnly(ExceptionReporter):
    """Tells the kind of an error and the lines it came through: no local variable, no body, no header, no message."""

    def __init__(
        self,
        request: HttpRequest | None,
        exc_type: type[BaseException] | None,
        exc_value: BaseException | None,
        tb: TracebackType | None,
        is_email: bool = False,
    ) -> None:
        super().__init__(request, exc_type, exc_value, tb, is_email)
        self.places = _places(exc_type, exc_value, tb)

    def get_traceback_text(self) -> SafeString:
        return SafeString(self.places)  # (files, lines and functions of our own)  # nosec B703

    def get_traceback_html(self) -> SafeString:
        return format_html("<!doctype html><title>Error</title><pre>{}</pre>", self.places)

    def get_traceback_data(self) -> dict[str, Any]:
        return {"places": self.places}


def _places(kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> str:
    if kind is None or error is None:
        kind, error, trace = sys.exc_info()
    return WithoutValues().formatException((kind, error, trace)) if kind and error else ""
