"""The caution stands in every result body of the API: by the renderer of each view, and seen where it can be asked."""

from collections.abc import Iterator

import pytest
from django.urls import URLPattern, URLResolver, get_resolver
from drf_spectacular.views import SpectacularJSONAPIView
from rest_framework.views import APIView

from pooling.caution import CAUTION_VERSION
from server.api.rendering import ResultRenderer

PREFIX = "api/v1/"


def api_views(resolver: URLResolver | None = None, prefix: str = "") -> Iterator[tuple[str, type[APIView]]]:
    for pattern in (resolver or get_resolver()).url_patterns:
        route = prefix + str(pattern.pattern)
        if isinstance(pattern, URLResolver):
            yield from api_views(pattern, route)
        elif isinstance(pattern, URLPattern) and route.startswith(PREFIX):
            yield route, pattern.callback.cls


def test_every_view_of_the_api_answers_through_the_one_renderer():
    views = dict(api_views())
    assert len(views) > 8
    others = {
        route: view.renderer_classes
        for route, view in views.items()
        if not issubclass(view, SpectacularJSONAPIView) and list(view.renderer_classes) != [ResultRenderer]
    }
    assert others == {}


@pytest.mark.django_db
def test_every_answer_that_needs_no_number_carries_it(contributor):
    asked = 0
    for route, view in api_views():
        if "<" in route or route == PREFIX or issubclass(view, SpectacularJSONAPIView) or not hasattr(view, "get"):
            continue
        answer = contributor.api.get(f"/{route}")
        assert answer.status_code in {200, 401, 403, 404}, route
        assert answer.json()["caution"]["version"] == CAUTION_VERSION, route
        asked += 1
    assert asked >= 3
