"""What changed from one edition to the next, from the two documents alone."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from server.editions.weighing import CRITERIA
from server.web import pages
from server.web.colouring import rows_of
from server.web.saying import said
from server.web.scale import SCALES

Row = Mapping[str, Any]

_RULES: Final = {
    "protocol_version": gettext_lazy("The group's rules about what counts have changed."),
    "k": gettext_lazy("The fewest people that a figure may rest on has changed."),
    "fit_version": gettext_lazy("The way of working the figures out has changed."),
    "seal_version": gettext_lazy("The way of adding wears up has changed."),
    "protection_version": gettext_lazy("The way of rounding and holding back has changed."),
}


@dataclass(frozen=True, slots=True)
class Change:
    """One site then and now."""

    label: str
    before: str
    now: str
    says: str


@dataclass(frozen=True, slots=True)
class Kind:
    """What changed in one kind of figures."""

    title: Any
    sites: tuple[Change, ...]


@dataclass(frozen=True, slots=True)
class Changes:
    """What is different in an edition, against the one before it."""

    rules: tuple[str, ...]
    kinds: tuple[Kind, ...]
    same: int


def changes(before: Row, now: Row) -> Changes:
    """Rules that changed; by kind of figure the sites that appeared, went or moved; how many figures stayed."""
    rules = tuple(str(says) for name, says in _RULES.items() if before["rules"][name] != now["rules"][name])
    kinds, same = [], 0
    for name, scale in SCALES.items():
        old, new = rows_of(before, name), rows_of(now, name)
        figure = CRITERIA[name].figure
        every = [_change(old.get(place), new.get(place), figure) for place in sorted(old.keys() | new.keys())]
        told = tuple(change for change in every if change is not None)
        same += len(every) - len(told)
        if told:
            kinds.append(Kind(scale.name, told))
    return Changes(rules, tuple(kinds), same)


def _change(old: Row | None, new: Row | None, figure: str) -> Change | None:
    label = said((new or old or {})["label"])
    if old is None or new is None:
        says = _("new") if old is None else _("no longer shown")
        return Change(label, _text(old, figure), _text(new, figure), says)
    was, told = old[figure], new[figure]
    if was == told:
        return None
    return Change(label, _text(old, figure), _text(new, figure), _in_words(was, told))


def _in_words(was: Row, told: Row) -> str:
    """Whether an earlier interval allowed for it; a bound has none."""
    if not {"lower", "upper"} <= was.keys() or "bound" in told:
        return _("told otherwise than before")
    inside = was["lower"] <= told["value"] <= was["upper"]
    return _("within what the earlier interval allowed") if inside else _("outside the earlier interval")


def _text(row: Row | None, figure: str) -> str:
    return pages.figure(row[figure]).text if row else ""
