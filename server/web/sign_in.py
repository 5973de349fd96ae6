"""Joining, signing in and out, and getting back in with a recovery code."""

from django.contrib import messages
from django.contrib.auth import login, logout
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from server.accounts import joining, services, sessions
from server.accounts.consents import CONSENT_VERSION, paragraphs
from server.accounts.selectors import consents_due
from server.core.addresses import client_address
from server.core.errors import ServiceError
from server.web.forms_accounts import JoinForm, RecoverForm, SignInForm
from server.web.showing import MemberRequest, for_members, sent, show, show_form

FORM_METHODS = ["GET", "HEAD", "POST"]


def enter(request: HttpRequest, account: services.Account) -> None:
    """Sign in: another session in place of the one before, so that nobody who knew that one comes in too."""
    login(request, account)
    request.session.cycle_key()  # also where the same member was signed in already
    sessions.begin(request.session)


@require_http_methods(FORM_METHODS)
def join(request: HttpRequest) -> HttpResponse:
    if request.user.is_authenticated:
        return redirect("web:account")
    form = JoinForm(sent(request), initial={"consent_version": CONSENT_VERSION})
    if request.method == "POST" and form.is_valid():
        told = form.cleaned_data
        try:
            joined = services.join(
                password=told["password"],
                consent_version=told["consent_version"],
                scopes={scope: told[scope] for scope in ("keep", "pool")},
                invitation=told["invitation"],
                address=client_address(request),
            )
        except ServiceError as refusal:
            form.refuse(refusal)
        else:
            enter(request, joined.account)
            return show_codes(request, joined.recovery_codes, new=True)
    context = {"consent": paragraphs(), "consent_version": CONSENT_VERSION, "by_invitation": joining.is_needed()}
    return show_form(request, "web/join.html", form, context)


def show_codes(request: HttpRequest, codes: tuple[str, ...], *, new: bool = False) -> HttpResponse:
    """In the answer itself and nowhere else: whatever were kept to show them on a further page could be read there."""
    context = {"codes": codes, "sign_in_name": request.user.get_username(), "new": new}
    return show(request, "web/codes.html", context)


@for_members
@require_POST
def codes_written_down(request: MemberRequest) -> HttpResponse:
    messages.success(request, _("You are signed in."))
    return redirect("web:wears")


@require_http_methods(FORM_METHODS)
def sign_in(request: HttpRequest) -> HttpResponse:
    form = SignInForm(sent(request))
    if request.method == "POST" and form.is_valid():
        try:
            account = services.check_sign_in(**form.cleaned_data, address=client_address(request))
        except ServiceError as refusal:
            form.refuse(refusal)
        else:
            enter(request, account)
            return _on_entering(request, account)
    context = {"next": request.POST.get("next", request.GET.get("next", ""))}
    return show_form(request, "web/sign_in.html", form, context)


@require_http_methods(FORM_METHODS)
def recover(request: HttpRequest) -> HttpResponse:
    form = RecoverForm(sent(request))
    if request.method == "POST" and form.is_valid():
        try:
            account = services.check_recovery(**form.cleaned_data, address=client_address(request))
        except ServiceError as refusal:
            form.refuse(refusal)
        else:
            enter(request, account)
            messages.success(request, _("Your new password holds. That recovery code is used up; strike it out."))
            return _on_entering(request, account)
    return show_form(request, "web/recover.html", form)


def _on_entering(request: HttpRequest, account: services.Account) -> HttpResponse:
    """To where somebody wanted to go; first to the switches, if their text has changed."""
    if consents_due(account):
        messages.warning(request, _("What you agreed to has been put into new words. Read it, and turn it on again."))
        return redirect("web:switches")
    target = request.POST.get("next", "")
    if not url_has_allowed_host_and_scheme(target, allowed_hosts={request.get_host()}):
        target = reverse("web:wears")
    return HttpResponseRedirect(target)


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    logout(request)
    return redirect("web:home")
