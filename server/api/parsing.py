"""Reading bodies, whatever somebody makes of them."""

from collections.abc import Mapping
from typing import Any

from django.core.exceptions import SuspiciousOperation
from rest_framework.exceptions import ParseError
from rest_framework.parsers import BaseParser, DataAndFiles, JSONParser, MultiPartParser
from rest_framework.request import Request


class BodyParser(JSONParser):
    """JSON; a body nested deeper than any call needs is a fault of the sender and not of ours."""

    def parse(
        self, stream: Any, media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> dict[str, Any]:
        try:
            return super().parse(stream, media_type, parser_context)
        except RecursionError:
            raise ParseError("The body is nested too deeply. No call needs more than a few levels.") from None


class FilesParser(MultiPartParser):
    """Parts with files; they stay in memory, and more parts than any call needs are a fault of the sender."""

    def parse(
        self, stream: Any, media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> DataAndFiles:
        try:
            return super().parse(stream, media_type, parser_context)
        except SuspiciousOperation:
            raise ParseError("The body has more parts than any call needs.") from None


class RawJSONParser(BaseParser):
    """Hands on the body as it came: the record has a reader of its own, which names every fault."""

    media_type = "application/json"

    # The framework hands on whatever a parser makes; its types know of parsed bodies alone.
    def parse(  # type: ignore[override]
        self, stream: Any, media_type: str | None = None, parser_context: Any = None
    ) -> bytes:
        return bytes(stream.read())


def body_of(request: Request) -> bytes:
    """What RawJSONParser read; of an empty body the framework makes an empty dict."""
    body: bytes | dict[str, Any] | list[Any] = request.data
    return body if isinstance(body, bytes) else b""


def parts_of(request: Request) -> dict[str, Any]:
    """What FilesParser read: the parts by name, files among them."""
    return request.data if isinstance(request.data, dict) else {}
