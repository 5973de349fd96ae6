"""The queue: wears without their owners, one at a time, and what was decided about them."""

from typing import Any, Final
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from server.core.errors import Invalid, ServiceError
from server.curation import selectors, services
from server.curation.words import remark_in_words
from server.groups.permissions import Permission
from server.groups.selectors import group_with_permission
from server.web.moderating.forms import DecideForm
from server.web.moderating.scatter import scatter
from server.web.saying import said, word_for
from server.web.showing import MemberRequest, for_members, sent, show, show_form
from server.web.sign_in import FORM_METHODS

# What became of a wear: a word for the queue, and a sentence for its own page.
STANDS: Final = {
    "approved": (
        gettext_lazy("approved"),
        gettext_lazy("It is approved, and counts from the next edition date on. Until then that can be undone."),
    ),
    "excluded": (
        gettext_lazy("left out"),
        gettext_lazy("It is left out. Its owner sees that from the next edition date on; until then it can be undone."),
    ),
    "asked": (
        gettext_lazy("its owner is asked"),
        gettext_lazy("Its owner is asked. It comes back to the queue with the answer; the question can be taken back."),
    ),
}
WORDED = ("site", "end_reason", "meter_class", "assignment")
MOST_AT_ONCE = services.MOST_AT_ONCE


@for_members
@require_safe
def queue(request: MemberRequest, slug: str) -> HttpResponse:
    """What needs a look most comes first; what is clean can be approved together."""
    group = group_with_permission(slug, request.user, Permission.WEARS_CURATE)
    lines = selectors.queue_for_moderator(group, account=request.user)
    clean = [line for line in lines if line.is_clean]
    odd = [(line, [said(remark_in_words(code)) for code in line.remarks]) for line in lines if not line.is_clean]
    context = {
        "group": group,
        "odd": odd,
        "clean": clean[:MOST_AT_ONCE],
        "n_clean": len(clean),
        "decided": [(line, STANDS[line.state][0]) for line in _decided(group, request)],
    }
    return show(request, "web/moderating/queue.html", context)


def _decided(group: Any, request: MemberRequest) -> list[selectors.Decided]:
    return selectors.decided_for_moderator(group, account=request.user)


@for_members
@require_POST
def approve_clean(request: MemberRequest, slug: str) -> HttpResponse:
    group = group_with_permission(slug, request.user, Permission.WEARS_CURATE)
    try:
        wears = [UUID(each) for each in request.POST.getlist("wear")]
    except ValueError:
        raise Invalid(_("The list of wears is not what this page had. Load the queue again.")) from None
    done = services.approve_clean(group, wears, by=request.user)
    n = len(done.approved)
    messages.success(request, ngettext("One wear is approved.", "%(n)d wears are approved.", n) % {"n": n})
    for left in done.left:
        messages.info(request, _("One was left as it is: %(why)s") % {"why": said(left.why)})
    return redirect("web:moderate-queue", slug=slug)


@for_members
@require_http_methods(FORM_METHODS)
def wear(request: MemberRequest, slug: str, wear_id: UUID) -> HttpResponse:
    """One wear beside what there is to decide; a decision leads back to the queue."""
    group = group_with_permission(slug, request.user, Permission.WEARS_CURATE)
    form = DecideForm(sent(request))
    if request.method == "POST" and form.is_valid():
        try:
            _decide(group, wear_id, form, by=request.user)
        except ServiceError as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, form.said)
            return redirect("web:moderate-queue", slug=slug)
    seen = selectors.wear_for_moderator(group, wear_id, account=request.user)
    _, stands = STANDS.get(seen.state, ("", ""))
    form.offer_what_is_left(decided=bool(stands))
    plot = None if seen.pairs is None else scatter(seen.pairs, seen.glucose_unit)
    context: dict[str, Any] = {"group": group, "wear": seen, "plot": plot, "stands": stands}
    context |= {f"{name}_words": word_for(getattr(seen, name)) for name in WORDED}
    return show_form(request, "web/moderating/wear.html", form, context)


def _decide(group: Any, wear_id: UUID, form: DecideForm, *, by: Any) -> None:
    told = form.cleaned_data
    if told["action"] == "ask":
        services.ask_owner(group, wear_id, question=told["question"], by=by)
    else:
        services.decide(group, wear_id, action=told["action"], code=told["code"], by=by)


@for_members
@require_safe
def record(request: MemberRequest, slug: str) -> HttpResponse:
    """Every decision of the group, a page at a time."""
    group = group_with_permission(slug, request.user, Permission.RECORD_READ)
    after = request.GET.get("after", "0")
    if not (after.isascii() and after.isdecimal() and len(after) < 10):
        raise Invalid(_("The record is read from the number of an entry on."))
    entries = selectors.record_of(group, account=request.user, after=int(after))
    context = {"group": group, "entries": entries, "more": len(entries) == selectors.RECORD_PAGE}
    return show(request, "web/moderating/record.html", context)
