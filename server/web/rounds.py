"""Joint rounds: members of a group wear one sensor model at two sites, each in an order drawn for them alone."""

from datetime import date
from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST

from server.core.errors import ServiceError
from server.core.selectors import sensor_model_slugs
from server.groups.permissions import Permission, may
from server.groups.rounds import RoundView, join_round, open_round, rounds_for_member
from server.groups.selectors import group_for_member, role_of
from server.web.forms import PageForm, missing
from server.web.saying import site_labels, word_for
from server.web.showing import MemberRequest, for_members, sent, show_form
from server.web.sign_in import FORM_METHODS


def _choice(label: Any) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, error_messages=missing(gettext_lazy("Choose one.")))


class RoundForm(PageForm):
    sensor_model = _choice(gettext_lazy("Sensor model"))
    site_a = _choice(gettext_lazy("One site"))
    site_b = _choice(gettext_lazy("The other site"))
    start_month = forms.RegexField(
        r"^\d{4}-\d{2}$",
        label=gettext_lazy("Month in which it begins"),
        help_text=gettext_lazy("Year and month, such as 2037-05. It can be joined until that month is over."),
        error_messages={"invalid": gettext_lazy("Type year and month, such as 2037-05.")},
        widget=forms.TextInput(attrs={"type": "month", "placeholder": "2037-05", "autocomplete": "off"}),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        labels = site_labels()
        models = [(slug, slug) for slug in sorted(sensor_model_slugs())]
        for name, choices in (("sensor_model", models), ("site_a", labels.items()), ("site_b", labels.items())):
            self.fields[name].choices = [("", "…"), *choices]  # type: ignore[attr-defined]

    def clean_start_month(self) -> date:
        try:
            return date.fromisoformat(f"{self.cleaned_data['start_month']}-01")
        except ValueError:
            raise forms.ValidationError(_("Type year and month, such as 2037-05.")) from None

    @property
    def as_told(self) -> dict[str, Any]:
        told = self.cleaned_data
        return {
            "sensor_model": told["sensor_model"],
            "sites": (told["site_a"], told["site_b"]),
            "start_month": told["start_month"],
        }


@for_members
@require_http_methods(FORM_METHODS)
def rounds(request: MemberRequest, slug: str) -> HttpResponse:
    """What is open to join, the own order where one takes part, and, for moderators, a form that opens one more."""
    group = group_for_member(slug, request.user)
    form = RoundForm(sent(request))
    if request.method == "POST" and form.is_valid():
        try:
            open_round(group, by=request.user, **form.as_told)
        except ServiceError as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, _("The round is open: members of the group can join it."))
            return redirect("web:rounds", slug=slug)
    context = {
        "group": group,
        "rounds": [_line(each) for each in rounds_for_member(group, account=request.user)],
        "may_open": may(role_of(request.user, group), Permission.ROUND_OPEN),
    }
    return show_form(request, "web/rounds.html", form, context)


@for_members
@require_POST
def join(request: MemberRequest, slug: str, round_id: UUID) -> HttpResponse:
    join_round(group_for_member(slug, request.user), round_id, account=request.user)
    messages.success(request, _("You take part. Your order has been drawn, for you alone."))
    return redirect("web:rounds", slug=slug)


def place_title(place: Any) -> str:
    """What lists call a place in a round: its group, its sites in their order, its sensor model and its month."""
    told = {
        "group": place.round.group.name,
        "sites": " · ".join(map(word_for, place.order)),
        "model": place.round.sensor_model,
        "month": date_format(place.round.start_month, "F Y"),
    }
    return _("joint round of %(group)s: %(sites)s; %(model)s; %(month)s") % told


def _line(each: RoundView) -> dict[str, Any]:
    return {
        "each": each,
        "sites": [word_for(site) for site in each.sites],
        "order": [word_for(site) for site in each.order or ()],
    }
