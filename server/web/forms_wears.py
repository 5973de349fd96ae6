"""The form about one wear: everything that its record says beside the pairs."""

from collections.abc import Iterator, Mapping
from typing import Any, Final

from django import forms
from django.utils.translation import gettext_lazy as _

from server.core.errors import ServiceError
from server.core.selectors import sensor_models, word_lists
from server.web.drafts import LONGEST_DAYS, MINUTES_A_DAY, Content, is_minutes, minutes_worn
from server.web.forms import ABOVE, PageForm, missing
from server.web.saying import said, site_labels, skin_grades, word_for

NOT_SAID: Final = ("", _("not said"))
YES_NO: Final = (NOT_SAID, ("yes", _("yes")), ("no", _("no")))
RATINGS: Final = ("ease", "comfort", "discretion")
N_EVENTS: Final = 3
KNOWN_BEFORE: Final = ("site", "sensor_model", "meter_class", "end_reason")
# Where a fault of the record stands on the page, by the end of its pointer.
FIELD_OF: Final = {"worn_min": "worn_days", "grade": "skin_grade", "signs": "skin_signs"}


def _choice(label: Any, *, radios: bool = False, **more: Any) -> forms.ChoiceField:
    widget: Any = forms.RadioSelect if radios else forms.Select
    return forms.ChoiceField(label=label, widget=widget, required=False, **more)


def _several(label: Any) -> forms.MultipleChoiceField:
    return forms.MultipleChoiceField(label=label, widget=forms.CheckboxSelectMultiple, required=False)


def _whole(label: Any, most: int, **more: Any) -> forms.IntegerField:
    attributes = {"inputmode": "numeric", "autocomplete": "off"}
    wrong = {
        "invalid": _("A whole number."),
        "max_value": _("At most %(limit_value)s."),
        "min_value": _("Not below 0."),
    }
    widget = forms.TextInput(attrs=attributes)
    errors = wrong | more.pop("error_messages", {})
    return forms.IntegerField(label=label, min_value=0, max_value=most, widget=widget, error_messages=errors, **more)


class WearForm(PageForm):
    wearer = _choice(_("Whose wear is it?"), radios=True)
    site = _choice(_("Where the sensor sat"), radios=True)
    side = _choice(_("Which side"), radios=True)
    sensor_model = forms.ChoiceField(
        label=_("Sensor model"), error_messages=missing(_("Choose the sensor model, or a name that stands for it."))
    )
    worn_days = _whole(_("Worn for: days"), LONGEST_DAYS, error_messages=missing(_("Type how many days, 0 for less.")))
    worn_hours = _whole(_("and hours"), 23, required=False)
    end_reason = forms.ChoiceField(label=_("How it ended"), error_messages=missing(_("Choose how the wear ended.")))
    assignment = forms.ChoiceField(
        label=_("How the site was picked"), error_messages=missing(_("Choose how the site was picked."))
    )
    registered = _choice(
        _("Fair test or joint round that it belongs to"),
        help_text=_("Its order counts where you say above that the site was drawn by lot."),
    )
    plan = forms.CharField(label=_("Plan that is not in the list above, by its mark"), required=False, max_length=64)
    meter_class = _choice(_("What the leaflet of your meter says"))
    calibrated = _choice(_("Did you calibrate the sensor with fingersticks?"), radios=True)
    prepared = _several(_("What was done to the spot first"))
    pinch = _choice(_("A pinch of skin there"))
    exposed = _several(_("What the spot went through"))
    near_insulin_site = _choice(_("Closer to an insulin site than the instructions allow?"), choices=YES_NO)
    spot_rested_days = _whole(_("Days since a sensor last sat on this spot"), 3650, required=False)
    interferent = _choice(_("A substance taken that the instructions warn of?"), choices=YES_NO)
    skin_grade = _choice(_("How the skin took it"), radios=True)
    skin_signs = _several(_("What was seen"))
    ease = _choice(_("How easy it was to place"))
    comfort = _choice(_("How comfortable it was to wear"))
    discretion = _choice(_("How little it showed"))
    rated_by = _choice(_("Who rated"), radios=True)

    def __init__(self, *args: Any, wearers: Mapping[str, str], plans: Mapping[str, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.words = word_lists()
        self._choose("wearer", wearers.items())
        self._choose("site", site_labels().items())
        self._choose("registered", (("", _("none")), *plans.items()))
        models = [model.slug for model in sensor_models() if model.open]
        self._choose("sensor_model", (("", _("choose")), *((slug, slug) for slug in models)))
        for name, known in (("end_reason", "end_reasons"), ("assignment", "assignments")):
            self._choose(name, (("", _("choose")), *self._worded(known)))
        self._choose("side", (NOT_SAID, *self._worded("sides")))
        self._choose("pinch", (NOT_SAID, *self._worded("pinch")))
        self._choose("meter_class", self._worded("meter_classes"))
        self._choose("calibrated", (("no", _("no")), ("yes", _("yes"))))
        self._choose("prepared", self._worded("prepared"))
        self._choose("exposed", self._worded("exposed"))
        grades = ((str(grade), text) for grade, text in enumerate(skin_grades()))
        self._choose("skin_grade", (NOT_SAID, *grades))
        self._choose("skin_signs", self._worded("skin_signs"))
        for name in RATINGS:
            self._choose(name, (NOT_SAID, *((str(points), str(points)) for points in range(11))))
        self._choose("rated_by", self._worded("rated_by"))
        self._add_events()

    def _choose(self, name: str, choices: Any) -> None:
        self.fields[name].choices = list(choices)  # type: ignore[attr-defined]

    def _worded(self, known: str) -> Iterator[tuple[str, str]]:
        return ((slug, word_for(slug)) for slug in self.words[known])

    def _add_events(self) -> None:
        for n in range(1, N_EVENTS + 1):
            self.fields[f"event-{n}"] = _choice(
                _("What happened"), choices=(("", _("nothing")), *self._worded("event_kinds"))
            )
            self.fields[f"event_day-{n}"] = _whole(_("on day"), LONGEST_DAYS, required=False)

    @property
    def events(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        return [(self[f"event-{n}"], self[f"event_day-{n}"]) for n in range(1, N_EVENTS + 1)]

    @property
    def more_is_told(self) -> bool:
        """Whether anything below the fold was filled in, or has to be put right."""
        below = (
            "prepared",
            "pinch",
            "exposed",
            "near_insulin_site",
            "spot_rested_days",
            "interferent",
            "plan",
            "event-1",
        )
        return any(self[name].value() or self[name].errors for name in below)

    def clean_site(self) -> str:
        if not self.cleaned_data["site"]:
            raise forms.ValidationError(_("Choose the site on which the sensor sat."))
        return str(self.cleaned_data["site"])

    def record(self, draft: Content) -> Content:
        """The draft with what was told about it."""
        told = self.cleaned_data
        of_the_form = {
            "site": told["site"],
            "side": told["side"] or None,
            "sensor_model": told["sensor_model"],
            "worn_min": told["worn_days"] * MINUTES_A_DAY + (told["worn_hours"] or 0) * 60 or 1,
            "end_reason": told["end_reason"],
            "assignment": told["assignment"],
            "plan": told["registered"] or told["plan"].strip() or None,
            "meter_class": told["meter_class"] or "unknown",
            "calibrated": told["calibrated"] == "yes",
            "conditions": self._conditions(),
            "events": list(self._events()),
            "skin": self._skin(),
            "ratings": self._ratings(),
        }
        # The exports know to the minute how long it was worn; the form asks for hours.
        exact = minutes_worn(draft)
        if exact is not None and exact // 60 == of_the_form["worn_min"] // 60:
            of_the_form["worn_min"] = exact
        return {"format": "wear-record/1", "glucose_unit": "mg/dL", "pairs": []} | draft | of_the_form

    def _conditions(self) -> Content:
        told = self.cleaned_data
        return {
            "prepared": told["prepared"],
            "pinch": told["pinch"] or None,
            "exposed": told["exposed"],
            "near_insulin_site": _yes(told["near_insulin_site"]),
            "spot_rested_days": told["spot_rested_days"],
            "interferent": _yes(told["interferent"]),
        }

    def _events(self) -> Iterator[Content]:
        for n in range(1, N_EVENTS + 1):
            if kind := self.cleaned_data[f"event-{n}"]:
                day = self.cleaned_data[f"event_day-{n}"] or 1
                yield {"kind": kind, "elapsed_min": (day - 1) * MINUTES_A_DAY}

    def _skin(self) -> Content | None:
        grade, signs = self.cleaned_data["skin_grade"], self.cleaned_data["skin_signs"]
        return {"grade": int(grade), "signs": signs} if grade else None

    def _ratings(self) -> Content | None:
        points = {name: int(self.cleaned_data[name]) if self.cleaned_data[name] else None for name in RATINGS}
        if not any(value is not None for value in points.values()):
            return None
        return points | {"rated_by": self.cleaned_data["rated_by"] or "self"}

    def refuse(self, refusal: ServiceError) -> None:
        """Faults of the record beside the fields that they come from; of pairs, above."""
        if not refusal.faults:
            self.add_error(ABOVE, said(refusal.detail))
        for fault in refusal.faults:
            place = fault["pointer"].rsplit("/", 1)[-1]
            name = FIELD_OF.get(place, place)
            message = said(fault["message"])
            message = message[0].upper() + message[1:]
            in_a_pair = fault["pointer"].startswith("#/pairs/")
            self.add_error(name if name in self.fields and not in_a_pair else ABOVE, message)


def _yes(answer: str) -> bool | None:
    return {"yes": True, "no": False}.get(answer)


def initial_of(draft: Content) -> Content:
    """What the form is filled with of a draft that exports or a notebook were read into."""
    known = {name: draft[name] for name in KNOWN_BEFORE if isinstance(draft.get(name), str)}
    if draft.get("calibrated") is True:
        known["calibrated"] = "yes"
    if (minutes := minutes_worn(draft)) is not None:
        days, rest = divmod(minutes, MINUTES_A_DAY)
        known |= {"worn_days": days, "worn_hours": rest // 60}
    return known | _initial_skin(draft.get("skin")) | _initial_events(draft.get("events"))


def _initial_skin(skin: Any) -> Content:
    if not isinstance(skin, dict) or skin.get("grade") not in range(len(skin_grades())):
        return {}
    signs = skin.get("signs")
    return {"skin_grade": str(int(skin["grade"])), "skin_signs": signs if isinstance(signs, list) else []}


def _initial_events(events: Any) -> Content:
    filled: Content = {}
    told = [one for one in events if isinstance(one, dict)] if isinstance(events, list) else []
    for n, event in enumerate(told[:N_EVENTS], start=1):
        minutes = event.get("elapsed_min")
        day = minutes // MINUTES_A_DAY + 1 if is_minutes(minutes) else 1
        filled |= {f"event-{n}": event.get("kind"), f"event_day-{n}": day}
    return filled
