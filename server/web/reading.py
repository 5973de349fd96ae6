"""Pages for readers. Each view reads through selectors and shows what an edition's document says."""

import hashlib
from collections.abc import Callable
from datetime import date
from itertools import pairwise
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.urls import reverse
from django.utils.cache import get_conditional_response
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from server.accounts.selectors import reader_of
from server.core import clock
from server.core.errors import Invalid, NotFound
from server.core.selectors import sensor_models
from server.editions import rendering
from server.editions.selectors import EditionView, edition_for_reader, editions_list, newest_editions, next_edition_date
from server.editions.weighing import weigh_sites
from server.groups.selectors import group_for_reader
from server.web import choosing, colouring, comparing, history, pages, tables, wearing, within
from server.web.keeping import kept
from server.web.saying import said, site_labels, tongue_of_page
from server.web.showing import show
from server.web.units import unit_of

NEWEST_COMPARED = 7
PUBLIC_FILE, MEMBERS_FILE = "public, max-age=60", "private, no-cache"
NO_SUCH_SITE = gettext_lazy("There is no such site.")


def _latest(request: HttpRequest, slug: str) -> EditionView | None:
    try:
        return edition_for_reader(slug, "latest", reader_of(request.user))
    except NotFound:
        return None


def _about(view: EditionView) -> dict[str, Any]:
    """What the head of every page of an edition says."""
    document = view.document
    dates = {name: date.fromisoformat(document[name]) for name in ("cut_off", "next_cut_off")}
    return {"view": view, "document": document, **dates}


def site_address(view: EditionView) -> Callable[[str], str]:
    return lambda site: reverse("web:site", args=(view.group_slug, view.number, site))


def _drawing(request: HttpRequest, view: EditionView) -> dict[str, Any]:
    return colouring.drawing(view.document, request.GET.get("colour"), site_address(view))


@require_safe
@kept
def group(request: HttpRequest, slug: str) -> HttpResponse:
    view = _latest(request, slug)
    if view is not None and any(view.document["tables"].values()):
        return _edition_page(request, view)
    found = group_for_reader(slug, reader_of(request.user))
    fallback = _latest(request, "everyone")
    context = {
        "group": found,
        "next_cut_off": next_edition_date(slug, reader_of(request.user), today=clock.today()),
        "studies": rendering.STUDIES,
        "not_studied": [said(place) for place in rendering.NOT_STUDIED],
    }
    if fallback is not None and (lines := pages.site_lines(fallback.document, "sites", unit_of(request))):
        context |= {**_about(fallback), **_drawing(request, fallback), "sites": lines}
    response = show(request, "web/group_waiting.html", context)
    response["Cache-Control"] = "no-store"  # it tells a date that moves
    return response


@require_safe
@kept
def edition(request: HttpRequest, slug: str, number: int) -> HttpResponse:
    return _edition_page(request, edition_for_reader(slug, number, reader_of(request.user)))


def _edition_page(request: HttpRequest, view: EditionView) -> HttpResponse:
    document, unit = view.document, unit_of(request)
    context = {
        **_about(view),
        **_drawing(request, view),
        "group": group_for_reader(view.group_slug, reader_of(request.user)),
        "about_people": pages.people_text(document["about"]["people"]),
        "sites": pages.site_lines(document, "sites", unit),
        "contrasts": pages.contrast_lines(document),
        "living": wearing.living_lines(document),
        "parts": within.part_tables(document, unit, site=None),
        "sensor_says": within.says_lines(document, unit),
        "lows": within.low_lines(document),
        "lots": within.lot_lines(document),
        "others": tables.other_tables(document, unit),
        "alts": {chart: said(words) for chart, words in rendering.drawn(view).items()},
        "tables": [(name, tables.title_of(name)) for name in rendering.TABLES if document["tables"].get(name)],
        "how_sure_rule": said(rendering.HOW_SURE_RULE),
    }
    return show(request, "web/edition.html", context)


@require_safe
@kept
def site(request: HttpRequest, slug: str, number: int, site: str) -> HttpResponse:
    view, unit = edition_for_reader(slug, number, reader_of(request.user)), unit_of(request)
    document = view.document
    lines = pages.site_lines(document, "sites", unit, site=site)
    if not lines:
        return _site_without_row(request, view, site)
    contrasts = pages.contrast_lines(document, site=site)
    context = {
        **_about(view),
        "line": lines[0],
        "by_model": pages.site_lines(document, "sites_by_model", unit, site=site),
        **_drawing(request, view),
        "contrasts": [line for line in contrasts if line.sensor_model is None],
        "contrasts_by_model": [line for line in contrasts if line.sensor_model is not None],
        "stays": wearing.stay_lines(document, site=site),
        "stays_by_model": wearing.stay_lines(document, site=site, by_model=True),
        "skin": wearing.skin_lines(document, site=site),
        "ratings": wearing.rating_lines(document, site=site),
        "parts": within.part_tables(document, unit, site=site),
        "sensor_says": within.says_lines(document, unit, site=site),
        "lows": within.low_lines(document, site=site),
        "asides": within.asides(document, site),
        "others": tables.other_tables(document, unit, site=site),
        "licences": _licences(site),
        "how_sure_rule": said(rendering.HOW_SURE_RULE),
    }
    return show(request, "web/site.html", context)


def _site_without_row(request: HttpRequest, view: EditionView, site: str) -> HttpResponse:
    """A site of the vocabulary of which nothing can be said: the same page whether few wore it or nobody."""
    label = site_labels().get(site)
    if label is None:
        raise NotFound(str(NO_SUCH_SITE))
    parent = next(iter(pages.site_lines(view.document, "sites", unit_of(request), site=site.partition(".")[0])), None)
    context = {**_about(view), "label": label, "parent": parent, "licences": _licences(site)}
    return show(request, "web/site_without_row.html", context)


def _licences(site: str) -> list[tuple[str, str | None]]:
    """Each sensor model of the catalogue, and for what ages its instructions name the site; None where they do not."""
    if site not in site_labels():
        return []
    named = {model.slug: {one["site"]: one["ages"] for one in model.licensed_sites} for model in sensor_models()}
    return [(slug, sites.get(site)) for slug, sites in named.items()]


@require_safe
@kept
def compare(request: HttpRequest, slug: str, number: int) -> HttpResponse:
    """Two to four sites side by side; without a choice, the form alone."""
    view = edition_for_reader(slug, number, reader_of(request.user))
    asked = request.GET.getlist("site")
    chosen = comparing.sites_asked(asked, view.document)
    context = {
        **_about(view),
        "sites": pages.site_lines(view.document, "sites", unit_of(request)),
        "chosen": chosen,
        "asked": bool(asked),
        "most": comparing.MOST_SITES,
    }
    if len(chosen) >= comparing.FEWEST_SITES:
        measures = comparing.measures(view.document, chosen, unit_of(request))
        context |= {
            "measures": [measure for measure in measures if measure.compares],
            "of_one_alone": [measure for measure in measures if not measure.compares],
            "pairs": comparing.pairs(view.document, chosen),
            "columns": [line.label for site in chosen for line in context["sites"] if line.site == site],
        }
    return show(request, "web/compare.html", context)


@require_safe
@kept
def choice(request: HttpRequest, slug: str) -> HttpResponse:
    """The sites of the newest edition by what matters to the reader."""
    view = edition_for_reader(slug, "latest", reader_of(request.user))
    weights = choosing.weights_asked(request.GET.dict())
    context = {**_about(view), "questions": choosing.questions(weights), "weights": choosing.WEIGHTS}
    try:
        weighed = weigh_sites(slug, weights, reader_of(request.user), number=view.number)
    except Invalid as refusal:
        return show(request, "web/choice.html", context | {"fault": said(refusal.faults[0]["message"])}, status=422)
    context |= {
        "weighed": weighed,
        "answers": choosing.answers(weighed),
        "left_out": choosing.left_out(weighed),
    }
    return show(request, "web/choice.html", context)


@require_safe
def earlier(request: HttpRequest, slug: str) -> HttpResponse:
    """All editions of a group, and what changed in each of the newest."""
    group = group_for_reader(slug, reader_of(request.user))
    views = newest_editions(slug, reader_of(request.user), most=NEWEST_COMPARED)
    changed = {now.number: history.changes(before.document, now.document) for now, before in pairwise(views)}
    lines = [(line, changed.get(line.number)) for line in editions_list(slug, reader_of(request.user))]
    context = {"group": group, "lines": lines, "view": views[0] if views else None}
    return show(request, "web/earlier.html", context)


@require_safe
@kept
def sheet(request: HttpRequest, slug: str, number: int) -> HttpResponse:
    """One page of paper for those who advise."""
    view = edition_for_reader(slug, number, reader_of(request.user))
    contrasts = pages.contrast_lines(view.document)
    context = {
        **_about(view),
        "sites": pages.site_lines(view.document, "sites", unit_of(request)),
        "settled": [line for line in contrasts if line.is_settled],
        "left_open": [line for line in contrasts if not line.is_settled],
        "about_people": pages.people_text(view.document["about"]["people"]),
        "skin": {line.name: line.figure.text for line in wearing.skin_lines(view.document)},
    }
    return show(request, "web/sheet.html", context)


@require_safe
def document(request: HttpRequest, slug: str, number: int) -> HttpResponseBase:
    view = edition_for_reader(slug, number, reader_of(request.user))
    return _file(request, view, rendering.document_file(view))


@require_safe
def package(request: HttpRequest, slug: str, number: int) -> HttpResponseBase:
    view = edition_for_reader(slug, number, reader_of(request.user))
    response = _file(request, view, rendering.package_file(view))
    response["Content-Disposition"] = f'attachment; filename="{view.group_slug}-edition-{view.number}.zip"'
    return response


@require_safe
def table(request: HttpRequest, slug: str, number: int, table: str) -> HttpResponseBase:
    view = edition_for_reader(slug, number, reader_of(request.user))
    return _file(request, view, rendering.table_file(view, table))


@require_safe
def chart(request: HttpRequest, slug: str, number: int, chart: str, file_format: str) -> HttpResponseBase:
    view = edition_for_reader(slug, number, reader_of(request.user))
    width = rendering.NARROW_CHART_WIDTH_PX if "narrow" in request.GET else rendering.CHART_WIDTH_PX
    return _file(request, view, rendering.chart_file(view, chart, file_format, width=width, tongue=tongue_of_page()))


def _file(request: HttpRequest, view: EditionView, file: rendering.File) -> HttpResponseBase:
    """Bytes of an edition; what only members may read stays with the browser that asked."""
    response = HttpResponse(file.content, content_type=file.media_type)
    response["ETag"] = f'"{hashlib.sha256(file.content).hexdigest()}"'
    response["Cache-Control"] = PUBLIC_FILE if view.is_public else MEMBERS_FILE
    response["Vary"] = "Cookie"
    return get_conditional_response(request, etag=response["ETag"], response=response) or response
