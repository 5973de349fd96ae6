"""Forms of moderators and of whoever founds a group."""

from collections.abc import Iterable
from typing import Any, ClassVar

from django import forms
from django.utils.translation import gettext_lazy as _

from server.core.selectors import sensor_models, word_lists
from server.curation.words import Question, Reason
from server.editions.retracting import IN_WORDS as REASONS_TO_RETRACT
from server.web.forms import PageForm, missing
from server.web.saying import site_labels, word_for, words

WHOLE_NUMBER = _("Type a whole number.")
EXPECTED = ("members", "wears_a_month", "sites")
QUESTIONS = {question.value: question.label for question in Question}
REASONS = {reason.value: reason.label for reason in Reason if reason.value}
LISTS = ("accepted_sites", "accepted_models", "accepted_meter_classes")


def _number(label: Any, *, least: int, most: int, help_text: Any = "", required: bool = True) -> forms.IntegerField:
    return forms.IntegerField(
        label=label,
        min_value=least,
        max_value=most,
        required=required,
        help_text=help_text,
        error_messages={"invalid": WHOLE_NUMBER, **missing(WHOLE_NUMBER)},
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )


def _name() -> forms.CharField:
    return forms.CharField(
        label=_("Name"),
        max_length=80,
        help_text=_("What its members call it. Name no person."),
        error_messages=missing(_("Give the group a name.")),
    )


def _description() -> forms.CharField:
    return forms.CharField(
        label=_("What it is about"),
        max_length=500,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class FoundForm(PageForm):
    name = _name()
    slug = forms.RegexField(
        r"^[a-z0-9-]+$",
        label=_("Short name, for the address"),
        max_length=40,
        error_messages={
            "invalid": _("Use small letters, digits and hyphens."),
            **missing(_("Choose a short name, such as river-walkers.")),
        },
        widget=forms.TextInput(attrs={"autocapitalize": "none", "spellcheck": "false", "placeholder": "river-walkers"}),
    )
    description = _description()
    wearers = forms.ChoiceField(
        label=_("Whose wears is it about?"),
        choices=(
            ("adult", _("adults")),
            ("child", _("children")),
            ("mixed", _("adults and children")),
        ),
        widget=forms.RadioSelect,
        error_messages=missing(_("Choose whose wears it is about.")),
    )
    public = forms.ChoiceField(
        label=_("Who may join and read?"),
        choices=(
            ("no", _("whoever has an invitation")),
            ("yes", _("anybody; its figures are open to all")),
        ),
        widget=forms.RadioSelect,
        error_messages=missing(_("Choose who may join.")),
    )
    feeds_everyone = forms.ChoiceField(
        label=_("Do its wears count in the figures of everyone, too?"),
        help_text=_("This is fixed for good: members give their wears on this understanding."),
        choices=(
            ("yes", _("yes: a site gets a row sooner, because more people stand behind it")),
            ("no", _("no: they count in this group alone")),
        ),
        widget=forms.RadioSelect,
        error_messages=missing(_("Choose one; it cannot be changed later.")),
    )
    members = _number(
        _("How many members do you expect?"),
        least=1,
        most=100,
        help_text=_("With the next two numbers it is worked out what the group will be able to show. None is kept."),
    )
    wears_a_month = _number(_("How many finished wears a month, all together?"), least=1, most=100)
    sites = _number(_("On how many different body sites?"), least=1, most=11)

    @property
    def as_told(self) -> dict[str, Any]:
        told = {name: self.cleaned_data[name] for name in ("name", "slug", "description", "wearers")}
        choices = {name: self.cleaned_data[name] == "yes" for name in ("public", "feeds_everyone")}
        expected = {name: self.cleaned_data[name] for name in EXPECTED}
        expected["sites_a_member"] = min(2, expected["sites"])
        return told | choices | {"expected": expected}


class DescribeForm(PageForm):
    name = _name()
    description = _description()


class InviteForm(PageForm):
    uses = _number(_("How many people may use it?"), least=1, most=4, help_text=_("One to four."))


def _ticks(label: Any, choices: Iterable[tuple[str, Any]]) -> forms.MultipleChoiceField:
    return forms.MultipleChoiceField(
        label=label,
        choices=list(choices),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("Nothing ticked takes them all."),
    )


class RulesForm(PageForm):
    """Every rule of a group, filled with those that hold now."""

    k = _number(
        _("Fewest people behind any figure"),
        least=5,
        most=50,
        help_text=_("At least 5. It can be raised, never lowered."),
    )
    fewest_pairs = _number(_("Fewest pairs of a wear that counts"), least=8, most=200, help_text=_("At least 8."))
    widest_gap_min = _number(
        _("Longest time between fingerstick and sensor reading, in minutes"),
        least=1,
        most=15,
        help_text=_("At most 15."),
    )
    highest_rate_mg_dl_min = forms.FloatField(
        label=_("Leave out pairs while glucose moves faster than this, in mg/dL a minute"),
        required=False,
        min_value=0.1,
        help_text=_("Empty keeps them all."),
        error_messages={"invalid": _("Type a number, or leave it empty.")},
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )
    first_day = forms.ChoiceField(
        label=_("Pairs of the first 24 hours of a sensor"),
        choices=(("keep", _("count")), ("leave_out", _("are left out"))),
        widget=forms.RadioSelect,
    )
    editions_before_model_given_up = _number(
        _("Edition dates a wear waits before it counts without its sensor model"), least=2, most=12
    )
    editions_before_site_given_up = _number(
        _("Edition dates a wear waits before it counts without its site"), least=4, most=12
    )
    months_between_editions = forms.TypedChoiceField(
        label=_("An edition every"),
        coerce=int,
        choices=((1, _("month")), (2, _("two months")), (3, _("three months"))),
        widget=forms.RadioSelect,
    )
    room = forms.BooleanField(label=_("No figures of its own: its wears count with everyone’s"), required=False)
    joint_rounds = forms.BooleanField(label=_("Moderators may open joint rounds"), required=False)
    two_person_publishing = forms.BooleanField(
        label=_("A second moderator has to agree before an edition is published"), required=False
    )
    curated_by_everyone = forms.BooleanField(
        label=_("The moderators of everyone look at its wears, in place of its own"), required=False
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["accepted_sites"] = _ticks(_("Body sites that count"), site_labels().items())
        self.fields["accepted_models"] = _ticks(
            _("Sensor models that count"), [(model.slug, model.slug) for model in sensor_models()]
        )
        self.fields["accepted_meter_classes"] = _ticks(
            _("Classes of meter that count"), [(name, word_for(name)) for name in word_lists()["meter_classes"]]
        )

    @property
    def as_told(self) -> dict[str, Any]:
        """The rules as the service takes them; an empty list of ticks stands for all."""
        return {name: (value or None) if name in LISTS else value for name, value in self.cleaned_data.items()}


class DecideForm(PageForm):
    """A decision about one wear; the reason and the question come from lists, so that nobody can be named."""

    action = forms.ChoiceField(
        label=_("What is to become of it?"),
        choices=(
            ("approve", _("approve it: it counts from the next edition date on")),
            ("ask", _("ask its owner first")),
            ("exclude", _("leave it out")),
            ("undo", _("undo what was decided")),
        ),
        widget=forms.RadioSelect,
        error_messages=missing(_("Choose what is to become of it.")),
    )
    question = forms.ChoiceField(label=_("If you ask: what?"), required=False)
    code = forms.ChoiceField(label=_("If you leave it out: why?"), required=False)

    SAID: ClassVar = {
        "approve": _("Approved."),
        "ask": _("Its owner is asked. It comes back to the queue with the answer."),
        "exclude": _("Left out. Its owner is told why and can have it looked at again."),
        "undo": _("Undone: it lies in the queue again."),
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["question"].choices = [("", "…"), *words(QUESTIONS).items()]  # type: ignore[attr-defined]
        self.fields["code"].choices = [("", "…"), *words(REASONS).items()]  # type: ignore[attr-defined]

    def offer_what_is_left(self, *, decided: bool) -> None:
        """Show what can be done now; what somebody else has made impossible meanwhile is refused in words."""
        action: Any = self.fields["action"]
        action.choices = [choice for choice in action.choices if (choice[0] == "undo") == decided]
        if decided:
            del self.fields["question"], self.fields["code"]

    def clean(self) -> dict[str, Any]:
        told = super().clean() or {}
        action = told.get("action")
        for wanted, field, says in (
            ("ask", "question", _("Choose what its owner is asked.")),
            ("exclude", "code", _("Choose why it is left out.")),
        ):
            if action == wanted and not told.get(field):
                self.add_error(field, says)
            elif action != wanted:
                told[field] = ""
        return told

    @property
    def said(self) -> str:
        return str(self.SAID[self.cleaned_data["action"]])


class RetractForm(PageForm):
    reason = forms.ChoiceField(
        label=_("Why is it taken back?"),
        widget=forms.RadioSelect,
        error_messages=missing(_("Choose a reason; readers are told it.")),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].choices = list(words(dict(REASONS_TO_RETRACT)).items())  # type: ignore[attr-defined]
