"""The form about several wears at once: what is the same for all is told once, the rest beside each."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from django import forms
from django.utils.translation import gettext_lazy as _

from server.core.selectors import sensor_models, word_lists
from server.web.drafts import LONGEST_DAYS, MINUTES_A_DAY, Content, Draft, minutes_worn
from server.web.forms import PageForm
from server.web.saying import site_labels, word_for

OF_EACH: Final = ("site", "end_reason", "worn_days")
OF_ALL: Final = ("sensor_model", "assignment", "meter_class", "calibrated")


def _of_all(label: Any) -> forms.ChoiceField:
    missing = {"required": _("Not every record says this. Choose what is so for all of them.")}
    return forms.ChoiceField(label=label, error_messages=missing)


def _of_each(label: Any, choices: Any) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, required=False, choices=choices)


@dataclass(frozen=True, slots=True)
class Line:
    """One wear in the list: what is asked of it, and what it was refused for."""

    number: int
    draft: Draft
    fields: tuple[forms.BoundField, ...]
    faults: Sequence[str]


class SeveralForm(PageForm):
    """What is chosen for all goes into each record; where nothing is chosen, each keeps what it says itself."""

    wearer = forms.ChoiceField(label=_("Whose wears are they?"), widget=forms.RadioSelect)
    sensor_model = _of_all(_("Sensor model of all of them"))
    assignment = _of_all(_("How the sites were picked"))
    meter_class = _of_all(_("What the leaflet of your meter says"))
    calibrated = _of_all(_("Did you calibrate the sensors with fingersticks?"))

    def __init__(
        self,
        *args: Any,
        wearers: Mapping[str, str],
        waiting: Sequence[Draft],
        refused: Mapping[int, Sequence[str]] | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, initial={"wearer": next(iter(wearers))} | dict(_known(waiting)), **kwargs)
        self.waiting, self.refused = waiting, refused or {}
        words = word_lists()
        models = [model.slug for model in sensor_models() if model.open]
        self._choose("wearer", wearers.items())
        self._choose_for_all("sensor_model", ((slug, slug) for slug in models))
        self._choose_for_all("assignment", ((slug, word_for(slug)) for slug in words["assignments"]))
        self._choose_for_all("meter_class", ((slug, word_for(slug)) for slug in words["meter_classes"]))
        self._choose_for_all("calibrated", (("no", _("no")), ("yes", _("yes"))))
        ends = [("", _("choose")), *((slug, word_for(slug)) for slug in words["end_reasons"])]
        sites = [("", _("choose")), *site_labels().items()]
        for n, draft in enumerate(waiting):
            self.fields[f"site-{n}"] = _of_each(_("Where it sat"), sites)
            self.fields[f"end_reason-{n}"] = _of_each(_("How it ended"), ends)
            if minutes_worn(draft.record) is None:
                self.fields[f"worn_days-{n}"] = _days()

    def _choose(self, name: str, choices: Any) -> None:
        self.fields[name].choices = list(choices)  # type: ignore[attr-defined]

    def _choose_for_all(self, name: str, choices: Any) -> None:
        """Asked of all where not every record says it."""
        says_all = all(draft.record.get(name) is not None for draft in self.waiting)
        self.fields[name].required = not says_all
        self._choose(name, (("", _("as each record says") if says_all else _("choose")), *choices))

    @property
    def of_all(self) -> list[forms.BoundField]:
        return [self[name] for name in OF_ALL]

    @property
    def lines(self) -> list[Line]:
        return [
            Line(
                number=n + 1,
                draft=draft,
                fields=tuple(self[f"{name}-{n}"] for name in OF_EACH if f"{name}-{n}" in self.fields),
                faults=self.refused.get(n, ()),
            )
            for n, draft in enumerate(self.waiting)
        ]

    @property
    def told(self) -> tuple[Draft, ...]:
        """The drafts with what was told; whatever is still open or wrong the check of each record names."""
        return tuple(Draft(draft.label, self._record(n, draft.record)) for n, draft in enumerate(self.waiting))

    def _record(self, n: int, draft: Content) -> Content:
        told = self.cleaned_data
        named = {name: told[name] for name in OF_ALL} | {name: told[f"{name}-{n}"] for name in ("site", "end_reason")}
        record: Content = {"format": "wear-record/1", "glucose_unit": "mg/dL", "pairs": []} | draft
        record |= {name: value for name, value in named.items() if value}
        if told["calibrated"]:
            record["calibrated"] = told["calibrated"] == "yes"
        if (days := told.get(f"worn_days-{n}")) is not None:
            record["worn_min"] = days * MINUTES_A_DAY or 1
        return record


def _days() -> forms.IntegerField:
    wrong = {
        "invalid": _("A whole number."),
        "max_value": _("At most %(limit_value)s."),
        "min_value": _("Not below 0."),
    }
    widget = forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"})
    return forms.IntegerField(
        label=_("Worn for: days"),
        min_value=0,
        max_value=LONGEST_DAYS,
        required=False,
        widget=widget,
        error_messages=wrong,
    )


def _known(waiting: Sequence[Draft]) -> Iterator[tuple[str, Any]]:
    for n, draft in enumerate(waiting):
        for name in ("site", "end_reason"):
            if isinstance(value := draft.record.get(name), str):
                yield f"{name}-{n}", value
