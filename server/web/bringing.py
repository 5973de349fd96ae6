"""Bringing in a wear: from exports or typed pairs, over the form about it, to what would be stored, and storing it."""

import json
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any
from uuid import UUID, uuid4

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from server.accounts import services as accounts
from server.accounts.selectors import wearer_of
from server.accounts.throttles import count_try
from server.core.errors import Invalid, ServiceError
from server.core.idempotency import Answer, answer_once
from server.groups.rounds import wearers_plans_and_places
from server.wears import previews, services
from server.web import drafts, exports, outline, timed
from server.web.forms_wears import WearForm, initial_of
from server.web.planning import titles_of
from server.web.rounds import place_title
from server.web.showing import MemberRequest, for_members, show
from server.web.sign_in import FORM_METHODS
from server.web.units import unit_of
from server.web.wearers import names_of, wearer_named

if TYPE_CHECKING:
    from server.accounts.models import Account


@for_members
@require_safe
def new(request: MemberRequest) -> HttpResponse:
    return show(request, "web/new_wear.html", {"roles": exports.roles()})


@for_members
@require_POST
def files(request: MemberRequest) -> HttpResponse:
    """Read what was sent, and ask; nothing of it stays here."""
    try:
        count_try("preview", str(request.user.pk))
        sent = exports.read_round(request)
        preview = previews.preview_of_exports(
            [held.file for held in sent.files], sent.told, account=request.user, wearer=wearer_of(request.user, None)
        )
    except ServiceError as refusal:
        return show(request, "web/new_wear.html", {"refusal": refusal}, status=refusal.status)
    held = exports.as_read(sent, preview)
    found, asked = drafts.drafts_of(preview), exports.questions(preview, held)
    remember(request, held)
    context = {
        "files": held,
        "round": sent,
        "questions": asked,
        "asks": any(one.blocking or one.options for one in asked),
        "asks_columns": any(one.code == "roles" for one in asked),
        "complete": preview["complete"],
        "wears": preview["wears"],
        "drafts": drafts.held(found),
        "roles": exports.roles(),
    }
    return show(request, "web/files.html", context)


def remember(request: MemberRequest, held: tuple[exports.Held, ...]) -> None:
    """Keep what the columns of these layouts are, where the member asked for it."""
    if "remember" not in request.POST:
        return
    for one in held:
        if one.mapping:
            accounts.remember_mapping(request.user, one.mapping)


@for_members
@require_http_methods(FORM_METHODS)
def typed(request: MemberRequest) -> HttpResponse:
    """Pairs from two displays, each with its day and time of day; the times become minutes and are forgotten."""
    form = timed.Form.empty(unit_of(request))
    if request.method == "POST":
        form = timed.Form.read(request.POST, unit=unit_of(request))
        if "more" in request.POST:
            form = form.with_room
        else:
            form, draft = timed.drafted(form)
            if draft is not None:
                return _about_page(request, (draft,), None)
    return show(request, "web/typed.html", {"form": form}, status=422 if form.n_faults else 200)


@for_members
@require_POST
def about(request: MemberRequest) -> HttpResponse:
    """The form about the first of the drafts; filled in without a fault, what would be stored."""
    waiting = drafts.drafts_in(request.POST.get("drafts", ""))
    if not waiting:
        raise Invalid(_("There is no wear here. Begin again."))
    if "filled" not in request.POST:
        return _about_page(request, waiting, None)
    form = _form(request, request.POST)
    if "change" in request.POST:
        return _about_page(request, waiting, form, status=200)
    if form.is_valid():
        record = drafts.as_stored(form.record(waiting[0].record))
        try:
            wearer = wearer_of(request.user, UUID(form.cleaned_data["wearer"]))
            (seen,) = previews.preview_of_record(json.dumps(record).encode(), account=request.user, wearer=wearer)[
                "wears"
            ]
        except ServiceError as refusal:
            form.refuse(refusal)
        else:
            return _check_page(request, record, seen, waiting)
    return _about_page(request, waiting, form, status=422)


def _form(request: MemberRequest, data: Any = None, initial: Mapping[str, Any] | None = None) -> WearForm:
    wearers, plans, places = wearers_plans_and_places(request.user)
    names = names_of(wearers)
    filled = {"wearer": next(iter(names)), "calibrated": "no", "meter_class": "unknown", "rated_by": "self", "side": ""}
    offered = titles_of(plans) | {place.plan: place_title(place) for place in places}
    return WearForm(data, wearers=names, plans=offered, initial=filled | dict(initial or {}))


def _about_page(
    request: MemberRequest, waiting: tuple[drafts.Draft, ...], form: WearForm | None, status: int = 200
) -> HttpResponse:
    form = form or _form(request, initial=initial_of(waiting[0].record))
    context = {
        "form": form,
        "draft": waiting[0],
        "n_more": len(waiting) - 1,
        "is_length_odd": "worn_min" in waiting[0].record and drafts.minutes_worn(waiting[0].record) is None,
        "drafts": drafts.held(waiting),
        "drawing": outline.to_choose(),
        "site": form["site"].value() or "",
    }
    return show(request, "web/about_wear.html", context, status=status)


def _check_page(
    request: HttpRequest, record: dict[str, Any], seen: Mapping[str, Any], waiting: tuple[drafts.Draft, ...]
) -> HttpResponse:
    written = json.dumps(record, separators=(",", ":"))
    context = {
        "told": list(drafts.told(record)),
        "pairs": drafts.pair_lines(record),
        "pairs_unit": record.get("glucose_unit"),
        "record": written,
        "n_bytes": len(written.encode()),
        "findings": seen["findings"],
        "key": uuid4().hex,
        "wearer": request.POST["wearer"],
        "waiting": drafts.held(waiting),
        "rest": drafts.held(waiting[1:]),
        "answers": [(name, value) for name, values in request.POST.lists() for value in values if _is_answer(name)],
    }
    return show(request, "web/check_wear.html", context)


def _is_answer(name: str) -> bool:
    return name not in ("csrfmiddlewaretoken", "drafts", "change")


@for_members
@require_POST
def keep(request: MemberRequest) -> HttpResponse:
    """Store it, once however often the form is sent; on to its report, or to the next of several."""
    raw, wearer = request.POST.get("record", "").encode(), request.POST.get("wearer", "")
    wear_id = store_once(raw, account=request.user, wearer=wearer, key=request.POST.get("key", ""))
    rest = drafts.drafts_in(request.POST.get("rest", ""))
    if rest:
        messages.success(request, _("Stored. Now the next one."))
        return _about_page(request, rest, None)
    messages.success(request, _("Stored. It is yours alone until you give it to a group."))
    return redirect(reverse("web:wear", args=[wear_id]))


def store_once(raw: bytes, *, account: "Account", wearer: str, key: str) -> str:
    """Store a record once for each key, and say as which wear."""

    def accept() -> Answer:
        uploaded = services.accept_upload(raw, account=account, wearer=wearer_named(account, wearer))
        return 201, {"id": str(uploaded.wear.pk)}

    _status, kept = answer_once(key, account_id=account.pk, body=f"{wearer}\n".encode() + raw, act=accept)
    return str(kept["id"])
