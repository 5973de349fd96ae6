"""Drafts and editions of a group: started, looked at, published, taken back."""

from typing import Any, Final
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from server.core import clock
from server.core.errors import NotFound, ServiceError
from server.editions import drafts, retracting, selectors, services
from server.groups.permissions import Permission
from server.groups.selectors import group_with_permission, protocol_of
from server.web import pages, wearing
from server.web.moderating.forms import RetractForm
from server.web.showing import MemberRequest, for_members, sent, show, show_form
from server.web.sign_in import FORM_METHODS
from server.web.units import unit_of

OPEN = ("fitting", "ready")
FIGURES: Final = {
    "mard_pct": "MARD, %",
    "bias_pct": gettext_lazy("reads high or low, %"),
    "within_15_15_pct": gettext_lazy("within 15 mg/dL or 15 %, in %"),
    "within_20_20_pct": gettext_lazy("within 20 mg/dL or 20 %, in %"),
    "on_rated_pct": gettext_lazy("on the skin for the rated life, %"),
    "reaction_pct": gettext_lazy("people with a skin reaction, %"),
    "mean_points": gettext_lazy("rating"),
    "difference_points": gettext_lazy("difference of two sites"),
}


def _moderated(request: MemberRequest, slug: str) -> Any:
    return group_with_permission(slug, request.user, Permission.WEARS_CURATE)


@for_members
@require_safe
def editions(request: MemberRequest, slug: str) -> HttpResponse:
    group = _moderated(request, slug)
    context = {
        "group": group,
        "drafts": [line for line in drafts.drafts_list(group, account=request.user) if line.state in OPEN],
        "editions": selectors.editions_list(slug, request.user),
        "next_date": selectors.next_edition_date(slug, request.user, today=clock.today()),
        "why_no_draft": services.why_no_draft(group),
        "is_room": protocol_of(group).room,
    }
    return show(request, "web/moderating/editions.html", context)


@for_members
@require_POST
def start(request: MemberRequest, slug: str) -> HttpResponse:
    draft = services.start_draft(_moderated(request, slug), by=request.user)
    return redirect("web:moderate-draft", slug=slug, draft_id=draft.pk)


@for_members
@require_safe
def draft(request: MemberRequest, slug: str, draft_id: UUID) -> HttpResponse:
    """How far it is; once it is ready, what would be published, what would not, and how far it can be believed."""
    group = _moderated(request, slug)
    view = drafts.draft_for_moderator(group, draft_id, account=request.user)
    context: dict[str, Any] = {"group": group, "draft": view, "two_people": protocol_of(group).two_person_publishing}
    if view.document is not None:
        document: Any = view.document
        context |= {
            "sites": pages.site_lines(document, "sites", unit_of(request)),
            "contrasts": pages.contrast_lines(document),
            "living": wearing.living_lines(document),
            "changed": [_change(each) for each in (view.changes or {}).get("figures", ())],
        }
    return show(request, "web/moderating/draft.html", context)


def _change(figure: Any) -> dict[str, Any]:
    """A figure that moved, in words."""
    return figure | {
        "was_text": pages.figure(figure["was"]).number,
        "is_text": pages.figure(figure["is"]).number,
        "name": FIGURES.get(figure["figure"], figure["figure"]),
    }


@for_members
@require_POST
def publish(request: MemberRequest, slug: str, draft_id: UUID) -> HttpResponse:
    edition = services.publish_draft(_moderated(request, slug), draft_id, by=request.user)
    if edition is None:
        messages.success(request, _("Proposed. Another moderator has to agree before it is published."))
        return redirect("web:moderate-draft", slug=slug, draft_id=draft_id)
    messages.success(request, _("Published. These figures stand from now on."))
    return redirect("web:moderate-editions", slug=slug)


@for_members
@require_POST
def discard(request: MemberRequest, slug: str, draft_id: UUID) -> HttpResponse:
    services.discard_draft(_moderated(request, slug), draft_id, by=request.user)
    messages.success(request, _("The draft is discarded. Another one can be started from the same sums."))
    return redirect("web:moderate-editions", slug=slug)


@for_members
@require_http_methods(FORM_METHODS)
def retract(request: MemberRequest, slug: str, number: int) -> HttpResponse:
    """Take an edition back for a reason of the list; the page says what that does before it is done."""
    group = _moderated(request, slug)
    line = next((each for each in selectors.editions_list(slug, request.user) if each.number == number), None)
    if line is None:
        raise NotFound(_("There is no such edition in this group."))
    form = RetractForm(sent(request))
    if request.method == "POST" and form.is_valid():
        try:
            done = retracting.retract_edition(group, number, reason=form.cleaned_data["reason"], by=request.user)
        except ServiceError as refusal:
            form.refuse(refusal)
        else:
            said = _("Taken back.") if done.retracted_month else _("Proposed. Another moderator has to agree.")
            messages.success(request, said)
            return redirect("web:moderate-editions", slug=slug)
    return show_form(request, "web/moderating/retract.html", form, {"group": group, "number": number, "line": line})
