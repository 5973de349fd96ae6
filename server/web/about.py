"""What stands on every page beside its own matter: notices; and the pages on notices and on members' data."""

from typing import Any

from django.conf import settings
from django.db import DatabaseError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from server.core.notices import all_notices, standing_notices
from server.core.processing import particulars, telling_fields
from server.web.saying import caution, said
from server.web.units import unit_of


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
    fields = [field for fields in telling_fields().values() for field in fields.values()]
    rows = sorted({(said(field.purpose), said(field.reader), said(field.retention)) for field in fields})
    answering = [(said(label), said(told)) for label, told in particulars()]
    return _page(request, "web/about_data.html", {"particulars": answering, "rows": rows})
