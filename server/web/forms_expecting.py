"""The form that asks what to expect of a next wear."""

from collections.abc import Iterable, Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from server.core.selectors import sensor_models
from server.web.forms import PageForm
from server.web.saying import site_labels


class ExpectForm(PageForm):
    """Sent in a body and never in an address: whose wears are read is a person."""

    wearer = forms.ChoiceField(label=_("For whom?"), widget=forms.RadioSelect)
    site = forms.ChoiceField(label=_("Where will it sit?"), required=False, widget=forms.RadioSelect)
    sensor_model = forms.ChoiceField(label=_("Sensor model"), required=False)
    group = forms.ChoiceField(label=_("Set beside the figures of"))

    def __init__(self, *args: Any, wearers: Mapping[str, str], groups: Iterable[Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        models = [(model.slug, model.slug) for model in sensor_models()]
        for name, choices in (
            ("wearer", list(wearers.items())),
            ("site", list(site_labels().items())),
            ("sensor_model", [("", _("over all of them")), *models]),
            ("group", [(group.slug, group.name) for group in groups]),
        ):
            self.fields[name].choices = choices  # type: ignore[attr-defined]

    def clean_site(self) -> str:
        if not self.cleaned_data["site"]:
            raise forms.ValidationError(_("Choose a site."))
        return str(self.cleaned_data["site"])
