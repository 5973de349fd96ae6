"""The form that adds somebody whose wears one keeps."""

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from server.web.forms import PageForm, missing

WHO = {
    "adult": {"relation": "other", "age_class": "adult"},
    "child": {"relation": "child", "age_class": "child"},
    "other-child": {"relation": "other", "age_class": "child"},
}


class WearerForm(PageForm):
    who = forms.ChoiceField(
        label=_("Who is it?"),
        choices=(
            ("child", _("my child")),
            ("other-child", _("another child whose guardian I am")),
            ("adult", _("another adult, who has agreed to this")),
        ),
        widget=forms.RadioSelect,
        error_messages=missing(_("Choose one.")),
    )
    of_age_month = forms.CharField(
        label=_("For a child: month in which it comes of age"),
        required=False,
        help_text=_("From then on it decides alone. Year and month, such as 2037-05."),
        widget=forms.TextInput(attrs={"type": "month", "placeholder": "2037-05", "autocomplete": "off"}),
    )
    guardian = forms.BooleanField(
        label=_("For a child: I may decide for it, as its parent or guardian"), required=False
    )

    def clean_of_age_month(self) -> date | None:
        typed = self.cleaned_data["of_age_month"].strip()
        if not typed:
            return None
        try:
            return date.fromisoformat(f"{typed}-01" if len(typed) == len("2037-05") else typed)
        except ValueError:
            raise forms.ValidationError(_("Type year and month, such as 2037-05.")) from None

    @property
    def as_told(self) -> dict[str, Any]:
        """What the service is told; of an adult, what only concerns children is passed over."""
        who = WHO[self.cleaned_data["who"]]
        if who["age_class"] == "adult":
            return dict(who)
        return who | {name: self.cleaned_data[name] for name in ("of_age_month", "guardian")}
