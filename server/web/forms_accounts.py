"""Forms of joining, signing in, and of the account page."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from server.web.forms import PageForm, missing

LONGEST_PASSWORD = 200


def _typed(label: Any, **more: Any) -> forms.CharField:
    attributes = {"autocapitalize": "none", "spellcheck": "false"} | more.pop("attributes", {})
    return forms.CharField(label=label, widget=forms.TextInput(attrs=attributes), **more)


def _password(label: Any, autocomplete: str, **more: Any) -> forms.CharField:
    return forms.CharField(
        label=label,
        max_length=LONGEST_PASSWORD,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": autocomplete}),
        **more,
    )


def sign_in_name() -> forms.CharField:
    return _typed(
        _("Sign-in name"),
        max_length=60,
        error_messages=missing(_("Type the sign-in name that you were given, two words and five digits.")),
        attributes={"autocomplete": "username", "placeholder": "quiet-otter-12345"},
    )


PASSWORD = _("Password")


def new_password(label: Any = PASSWORD) -> forms.CharField:
    return _password(
        label,
        "new-password",
        help_text=_(
            "At least twelve characters. Four ordinary words in a row do well; it needs no capitals and no signs."
        ),
        error_messages=missing(_("Choose a password of at least twelve characters.")),
    )


def present_password() -> forms.CharField:
    return _password(
        _("Your present password"),
        "current-password",
        error_messages=missing(_("Type your password, so that we know it is you.")),
    )


def one_time_code(*, required: bool = False) -> forms.CharField:
    return _typed(
        _("Code of your authenticator app"),
        max_length=40,
        required=required,
        help_text="" if required else _("Only if you have set one up: its six digits of now, or a recovery code."),
        error_messages=missing(_("Type the six digits that the app shows now.")),
        attributes={"autocomplete": "one-time-code"},
    )


class JoinForm(PageForm):
    consent_version = forms.IntegerField(widget=forms.HiddenInput)
    keep = forms.BooleanField(
        label=_("Keep my wears for my own reports"),
        error_messages=missing(_("Without keeping wears there is nothing that we can do for you.")),
    )
    pool = forms.BooleanField(
        label=_("Count the wears that I give to a group in pooled figures"),
        required=False,
    )
    password = new_password()
    invitation = _typed(_("Your invitation"), max_length=60, required=False, attributes={"autocomplete": "off"})


class SignInForm(PageForm):
    sign_in_name = sign_in_name()
    password = _password(_("Password"), "current-password", error_messages=missing(_("Type your password.")))
    one_time_code = one_time_code()


class RecoverForm(PageForm):
    sign_in_name = sign_in_name()
    recovery_code = _typed(
        _("One of your recovery codes"),
        max_length=40,
        error_messages=missing(_("Type one of the six codes that you wrote down when you joined.")),
        attributes={"autocomplete": "off", "placeholder": "abcd-efgh-jkmn-pqrs"},
    )
    password = new_password(_("New password"))
    one_time_code = one_time_code()


class PresentPasswordForm(PageForm):
    present_password = present_password()


class ChangePasswordForm(PresentPasswordForm):
    password = new_password(_("New password"))


class OneTimeCodeForm(PageForm):
    one_time_code = one_time_code(required=True)


class CloseForm(PresentPasswordForm):
    understood = forms.BooleanField(
        label=_("I have read what happens, and want it to happen"),
        error_messages=missing(_("Tick this if you want your account closed.")),
    )
