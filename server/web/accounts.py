"""The account page and what hangs on it: what was agreed to, what is kept, and how to leave."""

import json
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.contrib.auth import logout
from django.core.serializers.json import DjangoJSONEncoder
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from server.accounts import recovery, second_factor, services
from server.accounts.agreements import record_consent
from server.accounts.consents import CONSENT_VERSION, paragraphs
from server.accounts.credentials import check_present_password
from server.accounts.selectors import consents_due, mappings_of, switches_of, wears_held_by
from server.core.errors import ServiceError
from server.core.selectors import caution
from server.held import everything_about
from server.wears.holdings import readings_csv
from server.wears.selectors import wears_of
from server.web.forms_accounts import CloseForm
from server.web.showing import MemberRequest, for_members, sent, show, show_form
from server.web.sign_in import FORM_METHODS

SWITCHES = {
    "keep": gettext_lazy("Keep my wears for my own reports"),
    "pool": gettext_lazy("Count the wears that I give to a group in pooled figures"),
    "guardian": gettext_lazy("Keep wears of a child"),
}
ERASING = ("keep", "guardian")  # switches whose turning off erases wears


@for_members
@require_safe
def account(request: MemberRequest) -> HttpResponse:
    context = {
        "n_codes": recovery.n_left(request.user),
        "second_factor": second_factor.is_on(request.user),
    }
    return show(request, "web/account.html", context)


@for_members
@require_safe
def switches(request: MemberRequest) -> HttpResponse:
    words: dict[str, Any] = paragraphs()
    turned, due = switches_of(request.user), consents_due(request.user)
    lines = [
        {
            "scope": scope,
            "name": SWITCHES[scope],
            "says": says,
            "on": scope in turned and turned[scope].given,
            "due": scope in due,
            "since": turned[scope].on if scope in turned else None,
        }
        for scope, says in words["switches"].items()
    ]
    return show(request, "web/switches.html", {"lines": lines, "consent": words, "version": CONSENT_VERSION})


@for_members
@require_http_methods(FORM_METHODS)
def switch(request: MemberRequest, scope: str) -> HttpResponse:
    """Turn one on or off; before one goes off, the page says what that does."""
    if scope not in paragraphs()["switches"]:  # type: ignore[operator]
        raise Http404
    turned = switches_of(request.user).get(scope)
    is_on = turned is not None and turned.given and turned.text_version == CONSENT_VERSION
    if request.method == "POST":
        given = request.POST.get("given") == "yes"
        record_consent(request.user, scope=scope, given=given, text_version=CONSENT_VERSION)
        messages.success(request, _("The switch is on.") if given else _("The switch is off."))
        return redirect("web:switches")
    context = {
        "scope": scope,
        "name": SWITCHES[scope],
        "says": paragraphs()["switches"][scope],  # type: ignore[index]
        "is_on": is_on,
        "n_wears": len(wears_held_by(request.user)) if scope in ERASING else 0,
    }
    return show(request, "web/switch.html", context)


@for_members
@require_safe
def data(request: MemberRequest) -> HttpResponse:
    return show(request, "web/my_data.html", {"mappings": mappings_of(request.user)})


@for_members
@require_safe
def everything(request: MemberRequest) -> HttpResponse:
    content = everything_about(request.user) | {"caution": caution()}
    return _download(json.dumps(content, cls=DjangoJSONEncoder, indent=1), "application/json", "mine.json")


@for_members
@require_safe
def readings(request: MemberRequest) -> HttpResponse:
    return _download(readings_csv(request.user), "text/csv; charset=utf-8", "readings.csv")


def _download(content: str, media_type: str, name: str) -> HttpResponse:
    disposition = {"Content-Disposition": f'attachment; filename="{name}"'}
    return HttpResponse(content, content_type=media_type, headers=disposition)


@for_members
@require_POST
def forget_mapping(request: MemberRequest, mapping_id: UUID) -> HttpResponse:
    services.forget_mapping(mapping_id, account=request.user)
    messages.success(request, _("Forgotten."))
    return redirect("web:my-data")


@for_members
@require_POST
def forget_mappings(request: MemberRequest) -> HttpResponse:
    services.forget_mappings(account=request.user)
    messages.success(request, _("Nothing is remembered about your exports any more."))
    return redirect("web:my-data")


@for_members
@require_http_methods(FORM_METHODS)
def close(request: MemberRequest) -> HttpResponse:
    form = CloseForm(sent(request))
    if request.method == "POST" and form.is_valid():
        try:
            check_present_password(request.user, form.cleaned_data["present_password"])
        except ServiceError as refusal:
            form.refuse(refusal)
        else:
            services.close_account(request.user)
            logout(request)
            return redirect("web:closed")
    wears = wears_of(request.user)
    context = {
        "n_wears": len(wears),
        "n_counted": sum(wear.shown_state == "admitted" for wear in wears),
    }
    return show_form(request, "web/close.html", form, context)


@require_safe
def closed(request: HttpRequest) -> HttpResponse:
    return show(request, "web/closed.html")
