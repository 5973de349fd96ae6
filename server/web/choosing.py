"""What matters to a reader, from an address, and the sites by their chance to serve best: nothing of it is kept."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from server.editions.weighing import CRITERIA, WeighedSites
from server.web.pages import figure
from server.web.saying import said

NAMES: Final = {
    "accuracy": _("Nearness to the fingerstick"),
    "stays_on": _("Staying on"),
    "skin": _("Kindness to the skin"),
    "ease": _("Being easy to place"),
    "comfort": _("Being comfortable"),
    "discretion": _("Showing little"),
}
WEIGHTS: Final = {
    0: _("does not matter"),
    1: _("matters a little"),
    2: _("matters"),
    4: _("matters a lot"),
}
AT_FIRST: Final = {"accuracy": 2, "stays_on": 2, "skin": 2}


@dataclass(frozen=True, slots=True)
class Question:
    """One thing that may matter: what it is called, what equal weights count alike, and the weight it has."""

    name: str
    label: Any
    swing: str
    weight: int


@dataclass(frozen=True, slots=True)
class Answer:
    """A site's chances, and the figures that they rest on."""

    site: str
    label: str
    place: str
    best: str
    worst: str
    figures: tuple[tuple[Any, str], ...]


def weights_asked(asked: Mapping[str, str]) -> dict[str, int]:
    """The weights that an address names, without what is no weight; those of a first visit where it names none."""
    named = {name: int(asked[name][:9]) for name in CRITERIA if asked.get(name, "").isdecimal()}
    return {name: weight for name, weight in named.items() if weight in WEIGHTS} if named else dict(AT_FIRST)


def questions(weights: Mapping[str, int]) -> tuple[Question, ...]:
    return tuple(
        Question(name, NAMES[name], said(criterion.says), weights.get(name, 0)) for name, criterion in CRITERIA.items()
    )


def answers(weighed: WeighedSites) -> tuple[Answer, ...]:
    """The sites, the likeliest to serve best first, with chances in whole points of a hundred."""
    return tuple(
        Answer(
            site=chance.site,
            label=said(chance.label),
            place=_place(chance.place_from, chance.place_to),
            best=f"{100 * chance.p_best_frac:.0f}",
            worst=f"{100 * chance.p_worst_frac:.0f}",
            figures=tuple((NAMES[name], figure(told).text) for name, told in chance.figures.items()),
        )
        for chance in weighed.choice.sites
    )


def _place(first: int, last: int) -> str:
    return str(first) if first == last else gettext("%(first)s to %(last)s") % {"first": first, "last": last}


def left_out(weighed: WeighedSites) -> tuple[str, ...]:
    return tuple(said(one.label) for one in weighed.choice.left_out)
