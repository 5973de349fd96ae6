"""Every result carries the caution; where an address names a format, it is that one."""

from collections.abc import Mapping
from typing import Any

from rest_framework.negotiation import DefaultContentNegotiation
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request

from server.core.selectors import caution


class ResultRenderer(JSONRenderer):
    """JSON in which an object gets the caution beside its content, and a list becomes an object that holds it."""

    charset = None

    def render(self, data: Any, accepted_media_type: str | None = None, renderer_context: Any = None) -> bytes:
        if data is not None and not (isinstance(data, Mapping) and ("caution" in data or "openapi" in data)):
            data = (
                {**data, "caution": caution()} if isinstance(data, Mapping) else {"items": data, "caution": caution()}
            )
        return super().render(data, accepted_media_type, renderer_context)


class FormatInAddress(DefaultContentNegotiation):
    """The address says which format is meant, so the Accept header decides nothing."""

    def select_renderer(self, request: Request, renderers: Any, format_suffix: str | None = None) -> Any:
        return renderers[0], renderers[0].media_type
