"""A member's own wears: the list, one wear with its report and where it stands, some side by side."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final
from uuid import UUID

from django.http import HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from server.core import clock
from server.core.errors import Invalid
from server.core.selectors import sensor_models
from server.curation.standing import standing_of
from server.curation.words import Ground
from server.editions.slots import next_cut_off
from server.wears.plans import Registered, kept_by, registered_with, rounds_waiting
from server.wears.rendering import report_file, report_for_page
from server.wears.selectors import wear_for_owner, wears_of
from server.web.drafts import length, told
from server.web.pages import from_to
from server.web.planning import title_of
from server.web.rounds import place_title
from server.web.saying import localised, said, tongue_of_page, word_for
from server.web.showing import MemberRequest, for_members, show
from server.web.units import unit_of

GIVEN: Final = ("queued", "asked", "approved", "excluded")
FEWEST_BESIDE, MOST_BESIDE = 2, 4
MINUTES_A_DAY: Final = 24 * 60


def state_words(wear: Any) -> str:
    """Where a wear stands, as of the last edition date."""
    names = {"group": wear.group.name if wear.group else ""}
    words = {
        "private": _("Yours alone."),
        "queued": _("Given to %(group)s. Volunteers look it through."),
        "asked": _("Given to %(group)s. There is a question for you."),
        "approved": _("Given to %(group)s and looked through. It waits for a date on which it has enough company."),
        "admitted": _("Counted in figures of %(group)s."),
        "excluded": _("Given to %(group)s and left out of its figures."),
    }
    return words[wear.shown_state] % names


@dataclass(frozen=True, slots=True)
class Line:
    """One wear in the list; `worn_pct` is how much of its model's rated life it stayed on."""

    wear: Any
    model: str
    length: str
    ended: str
    state: str
    worn_pct: int | None
    origin: str


@dataclass(frozen=True, slots=True)
class Place:
    """The wears of one site, by sensor model and within one by their random ids: no order of arrival is kept."""

    label: str
    lines: tuple[Line, ...]


def origin_words(registered: Registered | None) -> str:
    """Which plan a wear came from; nothing for one that came without."""
    if registered is None:
        return ""
    if registered.plan:
        return title_of(registered.plan)
    if registered.place:
        return place_title(registered.place)
    return _("a plan that was dropped, or that is not kept here")


def _places(wears: Iterable[Any], registered: Mapping[UUID, Registered]) -> list[Place]:
    lives = {model.slug: model.rated_life_days for model in sensor_models()}
    by_site: dict[str, list[Any]] = {}
    for wear in wears:
        by_site.setdefault(wear.header["site"], []).append(wear)
    return [
        Place(
            word_for(site),
            tuple(_line(wear, lives, origin_words(registered.get(wear.pk))) for wear in sorted(found, key=_model)),
        )
        for site, found in sorted(by_site.items())
    ]


def _model(wear: Any) -> str:
    return str(wear.header["sensor_model"])


def _line(wear: Any, lives: dict[str, Decimal], origin: str) -> Line:
    header = wear.header
    life_days = lives.get(header["sensor_model"])
    worn_pct = None if not life_days else round(100 * header["worn_min"] / (life_days * MINUTES_A_DAY))
    return Line(
        wear=wear,
        model=header["sensor_model"],
        length=length(header["worn_min"]),
        ended=word_for(header["end_reason"]),
        state=state_words(wear),
        worn_pct=None if worn_pct is None else min(worn_pct, 100),
        origin=origin,
    )


@for_members
@require_safe
def wears(request: MemberRequest) -> HttpResponse:
    found, kept = wears_of(request.user), kept_by(request.user)
    context = {
        "places": _places(found, registered_with(found, kept=kept)),
        "n_wears": len(found),
        "can_compare": len(found) >= FEWEST_BESIDE,
        "waiting": [
            {"place": place, "title": place_title(place), "sites": [word_for(site) for site in left]}
            for place, left in rounds_waiting(found, kept=kept)
        ],
    }
    return show(request, "web/wears.html", context)


@for_members
@require_safe
def wear(request: MemberRequest, wear_id: UUID) -> HttpResponse:
    found = wear_for_owner(wear_id, account=request.user)
    registered = registered_with([found], kept=kept_by(request.user)).get(found.pk)
    context = {
        "wear": found,
        "label": word_for(found.header["site"]),
        "registered": registered,
        "origin": origin_words(registered),
        "told": list(told({**found.header, "plan": None})),
        "state": state_words(found),
        "given": found.shown_state in GIVEN,
        "standing": standing_of(found),
        "grounds": [(ground.value, said(ground.label)) for ground in Ground],
        "report": report_for_page(wear_id, account=request.user, unit=unit_of(request)),
        "next_cut_off": next_cut_off(clock.today()),
    }
    return show(request, "web/wear.html", context)


@for_members
@require_safe
def report(request: MemberRequest, wear_id: UUID, file_format: str) -> HttpResponse:
    """The report to keep, in the reader's unit and language."""
    unit, tongue = unit_of(request), tongue_of_page()
    file = report_file(wear_id, account=request.user, file_format=file_format, unit=unit, tongue=tongue)
    disposition = {"Content-Disposition": f'attachment; filename="{file.name}"'}
    return HttpResponse(file.content, content_type=file.media_type, headers=disposition)


MEASURES: Final = (
    ("n_pairs", ""),
    ("worn_days", ""),
    ("mard_pct", " %"),
    ("relative_bias_pct", " %"),
    ("within_15_15_pct", " %"),
    ("within_20_20_pct", " %"),
)


@for_members
@require_safe
def beside(request: MemberRequest) -> HttpResponse:
    """Two to four own wears side by side, each figure with what it could be."""
    chosen = list(dict.fromkeys(request.GET.getlist("wear")))
    if not FEWEST_BESIDE <= len(chosen) <= MOST_BESIDE:
        raise Invalid(_("Tick two to four of your wears, then set them side by side."))
    try:
        ids = [UUID(one) for one in chosen]
    except ValueError:
        raise Invalid(_("Tick two to four of your wears, then set them side by side.")) from None
    wears = [wear_for_owner(wear_id, account=request.user) for wear_id in ids]
    reports = [report_for_page(wear_id, account=request.user, unit=unit_of(request)) for wear_id in ids]
    names = {
        "n_pairs": _("Pairs"),
        "worn_days": _("Days worn"),
        "mard_pct": _("MARD: mean difference from the fingerstick"),
        "relative_bias_pct": _("Reads high (above 0) or low"),
        "within_15_15_pct": _("Within 15 mg/dL or 15 %"),
        "within_20_20_pct": _("Within 20 mg/dL or 20 %"),
    }
    labels = [f"{word_for(wear.header['site'])}, {length(wear.header['worn_min'])}" for wear in wears]
    rows = [
        (names[name], [(label, _figure(report, name, unit)) for label, report in zip(labels, reports, strict=True)])
        for name, unit in MEASURES
    ]
    context = {
        "wears": list(zip(wears, labels, strict=True)),
        "rows": rows,
        "life": [
            (label, report["sentences"], report["licence"]["says"])
            for label, report in zip(labels, reports, strict=True)
            if report
        ],
        "one_model": len({wear.header["sensor_model"] for wear in wears}) == 1,
    }
    return show(request, "web/beside.html", context)


def _figure(report: dict[str, Any] | None, name: str, unit: str) -> str:
    """A figure with its 95 % interval, where there is one."""
    if report is None:
        return _("readings erased")
    value = report.get(name)
    if value is None:
        return _("too few pairs")
    interval = (report.get("intervals") or {}).get(name)
    could_be = f" ({from_to(f'{interval[0]:.1f}', f'{interval[1]:.1f}')})" if interval else ""
    text = f"{value if unit == '' else format(value, '.1f')}{unit}{could_be}"
    return localised(text.replace("-", "\N{MINUS SIGN}"))
