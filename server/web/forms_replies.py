"""The form in which an owner answers what moderators asked about a wear."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from server.core.glucose import UNITS
from server.core.selectors import sensor_models, word_lists
from server.curation.standing import Asked
from server.web.forms import PageForm, missing
from server.web.saying import said, site_labels, word_for

CORRECTED = "corrected"


class AnswerForm(PageForm):
    answer = forms.ChoiceField(
        label=_("Your answer"), widget=forms.RadioSelect, error_messages=missing(_("Choose an answer."))
    )
    value = forms.ChoiceField(label=_("What is right, if it was wrong"), required=False)

    def __init__(self, *args: Any, asked: Asked, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.known = _possible(asked.code)
        self.fields["answer"].choices = [(reply.value, said(reply.label)) for reply in asked.answers]  # type: ignore[attr-defined]
        if any(reply.value == CORRECTED for reply in asked.answers):
            self.fields["value"].choices = [("", _("choose")), *self.known.items()]  # type: ignore[attr-defined]
        else:
            del self.fields["value"]

    @property
    def as_told(self) -> dict[str, Any]:
        """A value goes with the answer that something is put right, and with no other."""
        told = self.cleaned_data
        return {"answer": told["answer"], "value": (told.get("value") or None) if told["answer"] == CORRECTED else None}


def _possible(tag: str) -> dict[str, str]:
    """What a tag of the record may say, in plain words."""
    if tag == "sensor_model":
        return {model.slug: model.slug for model in sensor_models() if model.open}
    if tag == "glucose_unit":
        return {unit: unit for unit in UNITS}
    if tag == "site":
        return site_labels()
    known = {"side": "sides", "end_reason": "end_reasons"}.get(tag, "")
    return {slug: word_for(slug) for slug in word_lists().get(known, ())}
