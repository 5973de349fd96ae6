"""The forms of a fair test: what it is asked for, and when a calendar of it begins."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

from django import forms
from django.utils.functional import lazy
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from server.core.errors import ServiceError
from server.core.selectors import sensor_models
from server.web.forms import ABOVE, PageForm, missing
from server.web.saying import site_labels

if TYPE_CHECKING:
    from django.utils.functional import _StrOrPromise

FEWEST_SITES, MOST_SITES = 2, 6
FIRST_DAY_PAIRS: Final = 3
# Where a fault of the request stands on the page, by the first step of its pointer.
FIELD_OF: Final = {"spots": "sites", "waking_min": "waking_hours", "first_day_pairs": "daily_cap"}


def _bounds(least: int, most: int) -> str:
    return gettext("From %(least)d to %(most)d.") % {"least": least, "most": most}


def _whole(label: Any, least: int, most: int, **more: Any) -> forms.IntegerField:
    bounds = lazy(_bounds, str)(least, most)  # said when the page is
    errors: dict[str, _StrOrPromise] = {
        "invalid": _("A whole number."),
        "min_value": bounds,
        "max_value": bounds,
        "required": bounds,
    }
    widget = forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"})
    return forms.IntegerField(
        label=label, min_value=least, max_value=most, widget=widget, error_messages=errors, **more
    )


class PlanForm(PageForm):
    """Sent in a body and never in an address: whose test it is is a person."""

    wearer = forms.ChoiceField(label=_("For whom?"), widget=forms.RadioSelect)
    sites = forms.MultipleChoiceField(
        label=_("Which sites are set against each other? Two to six"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    sensor_model = forms.ChoiceField(label=_("Sensor model"), error_messages=missing(_("Choose the sensor model.")))
    wears_per_site = _whole(_("Wears at each site"), 1, 6, initial=2)
    pairs_per_wear = _whole(
        _("Fingersticks in each wear"),
        8,
        200,
        required=False,
        help_text=_("Leave it empty for as many as help, within the most a day below."),
    )
    daily_cap = _whole(
        _("Most fingersticks on any day"),
        1,
        10,
        initial=5,
        help_text=_("The plan never asks for more than this. Choose what can be done without strain."),
    )
    waking_hours = _whole(
        _("Hours of a day in which the wearer is sure to be awake"),
        8,
        20,
        initial=14,
        help_text=_("Fingersticks are planned in these hours alone, never at night."),
    )
    design = forms.ChoiceField(
        label=_("How the order is drawn"),
        widget=forms.RadioSelect,
        initial="blocked",
        choices=(
            ("blocked", _("anew for each round of the sites")),
            ("alternating", _("once, and kept for every round")),
        ),
    )

    def __init__(self, *args: Any, wearers: Mapping[str, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        models = [(model.slug, model.slug) for model in sensor_models() if model.open]
        for name, choices in (
            ("wearer", list(wearers.items())),
            ("sites", list(site_labels().items())),
            ("sensor_model", [("", _("choose")), *models]),
        ):
            self.fields[name].choices = choices  # type: ignore[attr-defined]

    def clean_sites(self) -> list[str]:
        sites = list(self.cleaned_data["sites"])
        if not FEWEST_SITES <= len(sites) <= MOST_SITES:
            raise forms.ValidationError(_("Tick two to six sites: a test sets one against another."))
        return sites

    @property
    def as_asked(self) -> dict[str, Any]:
        """The request for a fair test, as the API takes it."""
        told = self.cleaned_data
        return {
            "spots": [{"site": site} for site in told["sites"]],
            "sensor_model": told["sensor_model"],
            "wears_per_site": told["wears_per_site"],
            "pairs_per_wear": told["pairs_per_wear"],
            "daily_cap": told["daily_cap"],
            "first_day_pairs": min(FIRST_DAY_PAIRS, told["daily_cap"]),
            "waking_min": 60 * told["waking_hours"],
            "design": told["design"],
        }

    def refuse(self, refusal: ServiceError) -> None:
        if not refusal.faults:
            self.add_error(ABOVE, refusal.detail)
        for fault in refusal.faults:
            place = fault["pointer"].removeprefix("#/").split("/")[0]
            name = FIELD_OF.get(place, place)
            self.add_error(name if name in self.fields else ABOVE, fault["message"])


class CalendarForm(PageForm):
    first_day = forms.DateField(
        label=_("Day of the first sensor"),
        widget=forms.DateInput(attrs={"type": "date", "placeholder": "2037-05-04", "autocomplete": "off"}),
        error_messages={
            "required": _("Type the day, such as 2037-05-04."),
            "invalid": _("Type the day, such as 2037-05-04."),
        },
        input_formats=["%Y-%m-%d"],
    )
    wakes_at = forms.TimeField(
        label=_("When the wearer wakes"),
        widget=forms.TimeInput(attrs={"type": "time", "placeholder": "07:00", "autocomplete": "off"}),
        error_messages={
            "required": _("Type the hour, such as 07:00."),
            "invalid": _("Type the hour, such as 07:00."),
        },
        input_formats=["%H:%M", "%H:%M:%S"],
    )
