"""The first page, the unit that a reader chose, and what anybody may do without an account."""

from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_POST, require_safe
from django.views.i18n import set_language

from server.accounts.throttles import count_try
from server.core import clock
from server.core.addresses import client_address
from server.core.errors import TooMany
from server.editions.public import newest_public_edition, public_groups_with_newest
from server.editions.slots import next_cut_off
from server.web import colouring, typed
from server.web.reading import site_address
from server.web.saying import said
from server.web.showing import show
from server.web.units import remember_unit, unit_of

LOG_SHEET_LINES = 24


@require_safe
def home(request: HttpRequest) -> HttpResponse:
    context = {"groups": public_groups_with_newest(), "next_cut_off": next_cut_off(clock.today())}
    view = newest_public_edition("everyone")
    if view is not None and view.document["tables"]["sites"]:
        context |= {"view": view, **colouring.drawing(view.document, None, site_address(view))}
    return show(request, "web/home.html", context)


@require_POST
@csrf_exempt  # a page that holds a token of its visitor is a page that nobody may keep; nothing is at stake here
def choose_unit(request: HttpRequest) -> HttpResponse:
    """Remember the reader's glucose unit in a cookie of this site and go back to the page."""
    target = request.POST.get("next", "")
    if not url_has_allowed_host_and_scheme(target, allowed_hosts={request.get_host()}):
        target = reverse("web:home")
    response = HttpResponseRedirect(target)
    remember_unit(response, request.POST.get("unit", ""))
    return response


@require_POST
@csrf_exempt  # as above
def choose_language(request: HttpRequest) -> HttpResponse:
    """Remember the reader's language in a cookie of this site and go back to the page."""
    return set_language(request)


@require_http_methods(["GET", "HEAD", "POST"])
def pairs(request: HttpRequest) -> HttpResponse:
    """Pairs typed from two displays, and what they say. The answer is all that becomes of them."""
    if request.method != "POST":
        return _pairs_page(request, typed.Form.empty(unit_of(request)))
    form, report = typed.Form.read(request.POST.dict(), unit=unit_of(request)), None
    if "more" in request.POST:
        form = form.with_room
    else:
        form, report = _worked_out(request, form)
    response = _pairs_page(request, form, report)
    remember_unit(response, form.unit)
    return response


def _worked_out(request: HttpRequest, form: typed.Form) -> tuple[typed.Form, dict[str, Any] | None]:
    try:
        count_try("typed pairs", client_address(request))
    except TooMany as refusal:
        return typed.refused(form, said(refusal.detail)), None
    return typed.work_out(form)


def _pairs_page(request: HttpRequest, form: typed.Form, report: dict[str, Any] | None = None) -> HttpResponse:
    context = {"form": form, "report": report}
    return show(request, "web/pairs.html", context | typed.choices(), status=422 if form.n_faults else 200)


@require_safe
def log_sheet(request: HttpRequest) -> HttpResponse:
    return show(request, "web/log_sheet.html", {"lines": range(LOG_SHEET_LINES)})
