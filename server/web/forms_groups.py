"""The form that joins a group by invitation."""

from django import forms
from django.utils.translation import gettext_lazy as _

from server.web.forms import PageForm, missing


class InvitationForm(PageForm):
    slug = forms.SlugField(
        label=_("Short name of the group"),
        error_messages=missing(_("Type the short name that came with the invitation.")),
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none"}),
    )
    invitation = forms.CharField(
        label=_("Code of the invitation"),
        max_length=100,
        error_messages=missing(_("Type the code that a moderator gave you.")),
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none", "spellcheck": "false"}),
    )

    @property
    def code(self) -> str:
        return str(self.cleaned_data["invitation"].strip())
