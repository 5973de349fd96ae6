"""What stands on every page beside its own matter: notices; and the pages on notices and on members' data."""

from collections.abc import Iterator
from typing import Any, Final

from django.conf import settings
from django.db import DatabaseError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from server.core.notices import all_notices, standing_notices
from server.core.processing import particulars, telling_fields
from server.web.saying import caution, said
from server.web.units import unit_of

PARTS: Final = {
    "core": gettext_lazy("Requests that a program repeats"),
    "accounts": gettext_lazy("Accounts, wearers and plans"),
    "groups": gettext_lazy("Groups and joint rounds"),
    "wears": gettext_lazy("Wears"),
    "curation": gettext_lazy("Looking wears through"),
    "editions": gettext_lazy("Sums and figures"),
}
"""What the page on members' data calls the parts of the service that hold something about people."""


def notices_on_every_page(_request: HttpRequest) -> dict[str, Any]:
    """Context of every template; a page that says that the database is away must not ask it."""
    try:
        return {"notices": standing_notices(), "languages": settings.LANGUAGES}
    except DatabaseError:
        return {"notices": [], "languages": settings.LANGUAGES}


def _page(request: HttpRequest, template: str, context: dict[str, Any]) -> HttpResponse:
    return render(request, template, {"unit": unit_of(request), "caution": caution(), **context})


@require_safe
def notices(request: HttpRequest) -> HttpResponse:
    return _page(request, "web/notices.html", {"every_notice": all_notices()})


@require_safe
def data(request: HttpRequest) -> HttpResponse:
    answering = [(said(label), said(told)) for label, told in particulars()]
    return _page(request, "web/about_data.html", {"particulars": answering, "kept": list(_kept())})


def _kept() -> Iterator[tuple[str, list[tuple[str, str, str]]]]:
    """What is kept about people, part by part of the service, each kind once."""
    for part, fields in telling_fields().items():
        rows = {(said(field.purpose), said(field.reader), said(field.retention)) for field in fields.values()}
        yield str(PARTS[part]), sorted(rows)
