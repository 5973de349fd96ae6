"""What an owner does with a wear: give it, take it back, erase it, answer a question about it, appeal."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from server.accounts.selectors import consents_due, switches_of
from server.core.errors import ServiceError
from server.curation.replies import answer_question, appeal
from server.curation.standing import standing_of
from server.editions.selectors import has_published
from server.editions.slots import date_of, next_to_seal
from server.groups.selectors import group_for_giving, groups_to_give_to
from server.wears import services
from server.wears.disclosures import disclosure_for_owner
from server.wears.selectors import wear_for_owner
from server.web.forms_replies import AnswerForm
from server.web.saying import word_for
from server.web.showing import MemberRequest, for_members, show, show_form
from server.web.sign_in import FORM_METHODS

ADMITTED = "admitted"


@for_members
@require_http_methods(FORM_METHODS)
def give(request: MemberRequest, wear_id: UUID) -> HttpResponse:
    """Choose a group; read what anybody could learn; only then give."""
    wear = wear_for_owner(wear_id, account=request.user)
    if request.method == "POST":
        group = group_for_giving(request.POST.get("group", ""), request.user)
        services.give_to_group(wear_id, account=request.user, group=group)
        messages.success(request, _("Given to %(group)s. You can take it back at any time.") % {"group": group.name})
        return redirect("web:wear", wear_id)
    slug = request.GET.get("group", "")
    context = {"wear": wear, "label": word_for(wear.header["site"]), "groups": groups_to_give_to(request.user)}
    if slug:
        group = group_for_giving(slug, request.user)
        disclosure = disclosure_for_owner(
            wear_id, account=request.user, slug=slug, next_slot=next_to_seal(), has_published=has_published(slug)
        )
        pool = switches_of(request.user).get("pool")
        context |= {
            "group": group,
            "disclosure": disclosure,
            "until": date_of(disclosure.stays.until_slot_if_counted_next),
            "pool_is_on": pool is not None and pool.given and "pool" not in consents_due(request.user),
        }
    return show(request, "web/give.html", context)


@for_members
@require_http_methods(FORM_METHODS)
def take_back(request: MemberRequest, wear_id: UUID) -> HttpResponse:
    wear = wear_for_owner(wear_id, account=request.user)
    if request.method == "POST":
        services.take_back(wear_id, account=request.user)
        try:
            wear_for_owner(wear_id, account=request.user)
        except ServiceError:
            messages.success(request, _("Taken back. It had been counted, so all that was yours of it is erased."))
            return redirect("web:wears")
        messages.success(request, _("Taken back. It is yours alone again."))
        return redirect("web:wear", wear_id)
    return _confirm(request, "web/take_back.html", wear)


@for_members
@require_http_methods(FORM_METHODS)
def erase(request: MemberRequest, wear_id: UUID) -> HttpResponse:
    wear = wear_for_owner(wear_id, account=request.user)
    if request.method == "POST":
        services.erase_wear(wear_id, account=request.user)
        messages.success(request, _("Erased."))
        return redirect("web:wears")
    return _confirm(request, "web/erase.html", wear)


def _confirm(request: HttpRequest, template: str, wear: services.Wear) -> HttpResponse:
    context = {"wear": wear, "label": word_for(wear.header["site"]), "is_counted": wear.shown_state == ADMITTED}
    return show(request, template, context)


@for_members
@require_http_methods(FORM_METHODS)
def answer(request: MemberRequest, wear_id: UUID) -> HttpResponse:
    """Answer what moderators asked, from a list; what was wrong is put right by it."""
    wear = wear_for_owner(wear_id, account=request.user)
    asked = standing_of(wear).asked
    if asked is None:
        return redirect("web:wear", wear_id)
    form = AnswerForm(request.POST if request.method == "POST" else None, asked=asked)
    if request.method == "POST" and form.is_valid():
        try:
            answer_question(wear_id, account=request.user, **form.as_told)
        except ServiceError as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, _("Thank you. Your answer has gone to the volunteers."))
            return redirect("web:wear", wear_id)
    context = {
        "wear": wear,
        "asked": asked,
        "recorded": word_for(asked.recorded) if asked.recorded in form.known else asked.recorded,
    }
    return show_form(request, "web/answer.html", form, context)


@for_members
@require_POST
def appeal_against(request: MemberRequest, wear_id: UUID) -> HttpResponse:
    appeal(wear_id, account=request.user, ground=request.POST.get("ground", ""))
    messages.success(request, _("It will be looked at again."))
    return redirect("web:wear", wear_id)
