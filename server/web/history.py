"""What changed from one edition to the next, from the two documents alone."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from server.web import pages

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
class Changes:
    """What is different in an edition, against the one before it."""

    rules: tuple[str, ...]
    sites: tuple[Change, ...]
    same: int


def changes(before: Row, now: Row) -> Changes:
    """Rules that changed; sites that appeared, went or moved; and how many stayed as they were."""
    old, new = pages.rows_by_place(before, "sites"), pages.rows_by_place(now, "sites")
    every = [_change(old.get(place), new.get(place)) for place in sorted(old.keys() | new.keys())]
    told = tuple(change for change in every if change is not None)
    rules = tuple(str(says) for name, says in _RULES.items() if before["rules"][name] != now["rules"][name])
    return Changes(rules, told, len(every) - len(told))


def _change(old: Row | None, new: Row | None) -> Change | None:
    label = (new or old or {})["label"]
    if old is None or new is None:
        says = _("new") if old is None else _("no longer shown")
        return Change(label, _text(old), _text(new), says)
    was, mard = old["mard_pct"], new["mard_pct"]
    if was == mard:
        return None
    inside = was["lower"] <= mard["value"] <= was["upper"]
    says = _("within what the earlier interval allowed") if inside else _("outside the earlier interval")
    return Change(label, _text(old), _text(new), says)


def _text(row: Row | None) -> str:
    return pages.figure(row["mard_pct"]).text if row else ""
