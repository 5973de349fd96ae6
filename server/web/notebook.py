"""The notebook that works without network: one page for everybody, and the script that keeps it in a browser.

Nothing on the page depends on who asks, so that what a browser keeps of it can hold nobody's own page.
"""

import hashlib
import json
from typing import Final

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.urls import reverse
from django.utils import translation
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_safe

from server.core.selectors import word_lists
from server.web.saying import caution, skin_grades, word_for
from server.web.words import catalogue, in_its_language

SOURCES: Final = settings.PACKAGE / "static"
# What the page links to, and what its scripts import; imports name files without a digest.
LINKED: Final = ("web/icon.svg", "web/page.css", "web/member.css", "web/device/notebook.js")
IMPORTED: Final = ("web/words.js", "web/device/notes.js", "web/device/store.js", "web/device/shown.js")
WORKER: Final = "web/device/worker.js"
CHOICES: Final = ("skin_signs", "event_kinds", "end_reasons")


@require_safe
def notebook(_request: HttpRequest) -> HttpResponse:
    return redirect("web:notebook-page", translation.get_language() or settings.LANGUAGE_CODE)


@require_safe
@cache_control(no_cache=True, public=True)
@in_its_language
def page(_request: HttpRequest, language: str) -> HttpResponse:
    return HttpResponse(_content(language))


@require_safe
@cache_control(no_cache=True, public=True)
@in_its_language
def worker(_request: HttpRequest, language: str) -> HttpResponse:
    """The script that keeps the page; it becomes another as soon as anything that it keeps does."""
    kept = {"language": language, "version": _version(language), "addresses": _addresses(language)}
    source = (SOURCES / WORKER).read_text(encoding="utf-8")
    return HttpResponse(f"const KEPT = {json.dumps(kept)};\n{source}", content_type="text/javascript; charset=utf-8")


def _content(language: str) -> str:
    """The page as everybody gets it: no request plays a part in it."""
    known = word_lists()
    context = {
        "language": language,
        "languages": settings.LANGUAGES,
        "caution": caution(),
        "grades": list(enumerate(skin_grades())),
        **{name: [(slug, word_for(slug)) for slug in known[name]] for name in CHOICES},
    }
    return render_to_string("web/notebook.html", context)


def _addresses(language: str) -> list[str]:
    return [
        reverse("web:notebook-page", args=[language]),
        reverse("web:words", args=[language]),
        *map(static, LINKED),
        *(settings.STATIC_URL + name for name in IMPORTED),
    ]


def _version(language: str) -> str:
    digest = hashlib.sha256(_content(language).encode() + catalogue(language))
    for name in (*LINKED, *IMPORTED):
        digest.update((SOURCES / name).read_bytes())
    return digest.hexdigest()[:16]
