"""The texts of scripts, one file a language; an address names its language, so that everybody gets the same bytes."""

from collections.abc import Callable
from functools import cache, wraps

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import translation
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_safe
from django.views.i18n import JavaScriptCatalog

View = Callable[..., HttpResponse]


def in_its_language(view: View) -> View:
    """Answer in the language that the address names, whatever the visitor chose elsewhere."""

    @wraps(view)
    def answer(request: HttpRequest, language: str) -> HttpResponse:
        if language not in dict(settings.LANGUAGES):
            raise Http404
        with translation.override(language):
            response = view(request, language)
        response.headers["Content-Language"] = language
        return response

    return answer


@cache
def catalogue(language: str) -> bytes:
    with translation.override(language):
        return JavaScriptCatalog().get(HttpRequest()).content


@require_safe
@cache_control(public=True, max_age=3600)
@in_its_language
def words(_request: HttpRequest, language: str) -> HttpResponse:
    return HttpResponse(catalogue(language), content_type="text/javascript; charset=utf-8")
