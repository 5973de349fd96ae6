"""The form that proposes a sensor model for the catalogue."""

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from server.web.forms import PageForm, missing
from server.web.saying import site_labels


class ProposalForm(PageForm):
    slug = forms.CharField(
        label=_("A short name that is no brand"),
        max_length=24,
        help_text=_("Two or three parts of small letters and digits, one with a digit, such as demo-a14."),
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none", "spellcheck": "false"}),
        error_messages=missing(_("Give it a name.")),
    )
    rated_life_days = forms.DecimalField(
        label=_("Rated life in days"),
        max_digits=4,
        decimal_places=1,
        localize=True,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        error_messages=missing(_("Type for how many days it is made."))
        | {"invalid": _("A number, such as 14 or 10.5.")},
    )
    adults = forms.MultipleChoiceField(
        label=_("Sites that its instructions name for adults"), required=False, widget=forms.CheckboxSelectMultiple
    )
    children = forms.MultipleChoiceField(
        label=_("Sites that they name for children"), required=False, widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("adults", "children"):
            self.fields[name].choices = list(site_labels().items())  # type: ignore[attr-defined]

    @property
    def facts(self) -> dict[str, Any]:
        adults, children = set(self.cleaned_data["adults"]), set(self.cleaned_data["children"])
        ages = {site: "all" if site in adults & children else "adult" for site in adults}
        ages |= dict.fromkeys(children - adults, "child")
        days: Decimal = self.cleaned_data["rated_life_days"]
        return {"rated_life_days": days, "licensed": dict(sorted(ages.items()))}
