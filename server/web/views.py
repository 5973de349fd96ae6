"""Pages for readers. Each view reads through selectors and shows what an edition's document says."""

import hashlib
from collections.abc import Callable, Mapping
from datetime import date
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.cache import get_conditional_response
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from server.accounts.throttles import count_try
from server.core import clock
from server.core.addresses import client_address
from server.core.errors import NotFound, TooMany
from server.core.selectors import caution_paragraphs
from server.editions import rendering
from server.editions.selectors import EditionView, edition_for_reader, editions_list, next_cut_off
from server.groups.selectors import group_for_reader, public_groups
from server.web import outline, pages, typed, wearing
from server.web.scale import legend
from server.web.units import remember_unit, unit_of

LOG_SHEET_LINES = 24


def _page(request: HttpRequest, template: str, context: dict[str, Any], status: int = 200) -> HttpResponse:
    shared = {"unit": unit_of(request), "caution": caution_paragraphs()}
    return render(request, template, shared | context, status=status)


def _latest(slug: str) -> EditionView | None:
    try:
        return edition_for_reader(slug, "latest", None)
    except NotFound:
        return None


@require_safe
def home(request: HttpRequest) -> HttpResponse:
    groups = [(group, editions_list(group.slug, None)) for group in public_groups()]
    return _page(request, "web/home.html", {"groups": groups, "next_cut_off": next_cut_off(clock.today())})


@require_safe
def group(request: HttpRequest, slug: str) -> HttpResponse:
    found = group_for_reader(slug, None)
    view = _latest(slug)
    if view is not None and any(view.document["tables"].values()):
        return _edition_page(request, view)
    fallback = _latest("everyone")
    context = {"group": found, "view": view, "everyone": fallback, "next_cut_off": next_cut_off(clock.today())}
    if fallback is not None:
        context |= {"sites": pages.site_lines(fallback.document, "sites", unit_of(request))}
    return _page(request, "web/group_waiting.html", context)


@require_safe
def edition(request: HttpRequest, slug: str, number: int) -> HttpResponse:
    return _edition_page(request, edition_for_reader(slug, number, None))


def _edition_page(request: HttpRequest, view: EditionView) -> HttpResponse:
    document, unit = view.document, unit_of(request)
    context = {
        "view": view,
        "group": group_for_reader(view.group_slug, None),
        "document": document,
        **_dates(document),
        "about_people": pages.people_text(document["about"]["people"]),
        "sites": pages.site_lines(document, "sites", unit),
        "contrasts": pages.contrast_lines(document),
        "stays": wearing.stay_lines(document),
        "skin": wearing.skin_lines(document),
        "drawing": outline.coloured(pages.rows_by_place(document, "sites"), _site_address(view)),
        "legend": legend(),
        "alt": rendering.chart_words(view, "sites"),
        "editions": editions_list(view.group_slug, None),
    }
    return _page(request, "web/edition.html", context)


def _site_address(view: EditionView) -> Callable[[str], str]:
    return lambda site: reverse("web:site", args=(view.group_slug, view.number, site))


def _dates(document: Mapping[str, Any]) -> dict[str, date]:
    return {name: date.fromisoformat(document[name]) for name in ("cut_off", "next_cut_off")}


@require_safe
def site(request: HttpRequest, slug: str, number: int, site: str) -> HttpResponse:
    view = edition_for_reader(slug, number, None)
    lines = pages.site_lines(view.document, "sites", unit_of(request), site=site)
    if not lines:
        return _site_without_row(request, view, site)
    context = {
        "view": view,
        "document": view.document,
        **_dates(view.document),
        "line": lines[0],
        "by_model": pages.site_lines(view.document, "sites_by_model", unit_of(request), site=site),
        "contrasts": pages.contrast_lines(view.document, site=site),
        "stays": wearing.stay_lines(view.document, site=site),
        "stays_by_model": wearing.stay_lines(view.document, site=site, by_model=True),
        "skin": wearing.skin_lines(view.document, site=site),
        "ratings": wearing.rating_lines(view.document, site=site),
    }
    return _page(request, "web/site.html", context)


def _site_without_row(request: HttpRequest, view: EditionView, site: str) -> HttpResponse:
    """A site of the vocabulary of which nothing can be said: the same page whether few wore it or nobody."""
    label = outline.site_labels().get(site)
    if label is None:
        raise NotFound("There is no such site.")
    parent = next(iter(pages.site_lines(view.document, "sites", unit_of(request), site=site.partition(".")[0])), None)
    context = {"view": view, "document": view.document, **_dates(view.document), "label": label, "parent": parent}
    return _page(request, "web/site_without_row.html", context)


@require_safe
def chart(request: HttpRequest, slug: str, number: int, chart: str) -> HttpResponse:
    view = edition_for_reader(slug, number, None)
    width = rendering.NARROW_CHART_WIDTH_PX if "narrow" in request.GET else rendering.CHART_WIDTH_PX
    drawn = rendering.chart_file(view, chart, "svg", width=width)
    response = HttpResponse(drawn.content, content_type=drawn.media_type)
    response["ETag"] = f'"{hashlib.sha256(drawn.content).hexdigest()}"'
    response["Cache-Control"] = "public, max-age=86400"
    return get_conditional_response(request, etag=response["ETag"], response=response) or response


@require_POST
@csrf_exempt  # a page that holds a token of its visitor is a page that nobody may keep; nothing is at stake here
def choose_unit(request: HttpRequest) -> HttpResponse:
    """Remember the reader's glucose unit in a cookie of this site and go back to the page."""
    target = request.POST.get("next", "")
    if not url_has_allowed_host_and_scheme(target, allowed_hosts={request.get_host()}):
        target = reverse("web:home")
    response = HttpResponseRedirect(target)
    remember_unit(request, response, request.POST.get("unit", ""))
    return response


@require_http_methods(["GET", "HEAD", "POST"])
def pairs(request: HttpRequest) -> HttpResponse:
    """Pairs typed from two displays, and what they say. The answer is all that becomes of them."""
    if request.method != "POST":
        return _pairs_page(request, typed.empty_form(unit_of(request)))
    form, report = typed.read_form(request.POST.dict(), unit=unit_of(request)), None
    if "more" in request.POST:
        form = form.with_room
    else:
        form, report = _worked_out(request, form)
    response = _pairs_page(request, form, report)
    remember_unit(request, response, form.unit)
    return response


def _worked_out(request: HttpRequest, form: typed.Form) -> tuple[typed.Form, dict[str, Any] | None]:
    try:
        count_try("typed pairs", client_address(request))
    except TooMany as refusal:
        return typed.refused(form, refusal.detail), None
    return typed.work_out(form)


def _pairs_page(request: HttpRequest, form: typed.Form, report: dict[str, Any] | None = None) -> HttpResponse:
    context = {"form": form, "report": report}
    return _page(request, "web/pairs.html", context | typed.choices(), status=422 if form.n_faults else 200)


@require_safe
def log_sheet(request: HttpRequest) -> HttpResponse:
    return _page(request, "web/log_sheet.html", {"lines": range(LOG_SHEET_LINES)})
