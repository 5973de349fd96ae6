"""What lets a member in: password, recovery codes, an authenticator app, and sign-ins elsewhere."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST

from server.accounts import credentials, second_factor
from server.core.errors import ServiceError
from server.web.forms_accounts import ChangePasswordForm, OneTimeCodeForm, PresentPasswordForm
from server.web.qr import qr_svg
from server.web.showing import MemberRequest, for_members, sent, show_form
from server.web.sign_in import FORM_METHODS, enter, show_codes


@for_members
@require_http_methods(FORM_METHODS)
def password(request: MemberRequest) -> HttpResponse:
    form = ChangePasswordForm(sent(request))
    if request.method == "POST" and form.is_valid():
        try:
            credentials.change_password(request.user, **form.cleaned_data)
        except ServiceError as refusal:
            form.refuse(refusal)
        else:
            enter(request, request.user)
            messages.success(request, _("Your new password holds. Everywhere else you are signed out."))
            return redirect("web:account")
    return show_form(request, "web/password.html", form)


@for_members
@require_http_methods(FORM_METHODS)
def codes(request: MemberRequest) -> HttpResponse:
    form = PresentPasswordForm(sent(request))
    if request.method == "POST" and form.is_valid():
        try:
            fresh = credentials.renew_recovery_codes(request.user, **form.cleaned_data)
        except ServiceError as refusal:
            form.refuse(refusal)
        else:
            return show_codes(request, fresh)
    return show_form(request, "web/new_codes.html", form)


@for_members
@require_http_methods(FORM_METHODS)
def authenticator(request: MemberRequest) -> HttpResponse:
    """Set it up and confirm it with a first code; where it is on, switch it off with one."""
    form = OneTimeCodeForm(sent(request))
    is_on = second_factor.is_on(request.user)
    if request.method == "POST" and form.is_valid():
        act = second_factor.end if is_on else second_factor.confirm
        try:
            act(request.user, **form.cleaned_data)
        except ServiceError as refusal:
            form.refuse(refusal)
        else:
            said = _("Signing in asks for no code any more.") if is_on else _("From now on signing in asks for a code.")
            messages.success(request, said)
            return redirect("web:account")
    setup = None if is_on else second_factor.pending(request.user)
    square = qr_svg(setup.address) if setup else ""
    context = {"is_on": is_on, "setup": setup, "square": square, "beginning": PresentPasswordForm()}
    return show_form(request, "web/authenticator.html", form, context)


@for_members
@require_POST
def begin_authenticator(request: MemberRequest) -> HttpResponse:
    form = PresentPasswordForm(request.POST)
    if form.is_valid():
        try:
            credentials.check_present_password(request.user, **form.cleaned_data)
            second_factor.begin(request.user)
        except ServiceError as refusal:
            form.refuse(refusal)
        else:
            return redirect("web:authenticator")
    return show_form(request, "web/authenticator.html", form, {"beginning": form})


@for_members
@require_POST
def sign_out_elsewhere(request: MemberRequest) -> HttpResponse:
    n_ended = credentials.end_other_sign_ins(request.user, session_key=request.session.session_key)
    said = ngettext("%(n)d other sign-in has ended.", "%(n)d other sign-ins have ended.", n_ended) % {"n": n_ended}
    messages.success(request, said)
    return redirect("web:account")
