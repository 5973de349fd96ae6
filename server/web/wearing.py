"""What the pages tell beside accuracy: how long sensors stayed on, the skin, and how people rated the place."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from server.web.pages import Figure, figure, people_text, place_of
from server.web.saying import said

Row = Mapping[str, Any]

DAYS = (3, 7, 10, 14)
ENDS = {
    "off_adhesive_pct": gettext_lazy("came off or was knocked off"),
    "off_device_pct": gettext_lazy("failed, or lost the signal for good"),
    "off_body_pct": gettext_lazy("taken off because of the skin or of pain"),
    "off_other_pct": gettext_lazy("ended early in another way"),
}
ON_RATED = gettext_lazy("Still on at the end of its rated life (of 100)")
REACTED = gettext_lazy("Redness or itch for hours, or worse (of 100 people)")
NOTHING = Figure("", "")
RATINGS = {
    "ease": gettext_lazy("How easy it was to place"),
    "comfort": gettext_lazy("How comfortable it was to wear"),
    "discretion": gettext_lazy("How little it showed"),
}


@dataclass(frozen=True, slots=True)
class Named:
    """A figure under the words that it answers."""

    name: str
    figure: Figure
    people: str = ""
    people_at_least: int = 0


@dataclass(frozen=True, slots=True)
class LivingLine:
    """What a site is like to live with: a figure under each heading."""

    site: str
    label: str
    cells: tuple[Named, ...]


@dataclass(frozen=True, slots=True)
class StayLine:
    """How long sensors stayed on at a site, of one sensor model or over all."""

    site: str
    label: str
    sensor_model: str | None
    people: str
    people_at_least: int
    days: tuple[Named, ...]
    rated: Figure
    ends: tuple[Named, ...]


def stay_lines(document: Row, *, site: str | None = None, by_model: bool = False) -> tuple[StayLine, ...]:
    """The rows over all sensor models, or those of one each; all or those of one site."""
    return tuple(_stay_line(row) for row in _rows(document, "survival", site, by_model))


def skin_lines(document: Row, *, site: str | None = None) -> tuple[Named, ...]:
    """Per site the share of people whose skin reacted."""
    return tuple(
        Named(said(row["label"]), figure(row["reaction_pct"]), people_text(row["people"]))
        for row in _rows(document, "skin", site, by_model=False)
    )


def rating_lines(document: Row, *, site: str) -> tuple[Named, ...]:
    """The mean ratings of a site, each with the people who gave it."""
    rows = {row["rating"]: row for row in _rows(document, "ratings", site, by_model=False)}
    return tuple(
        Named(
            str(words),
            figure(rows[rating]["mean_points"]),
            people_text(rows[rating]["people"]),
            rows[rating]["people"]["at_least"],
        )
        for rating, words in RATINGS.items()
        if rating in rows
    )


def living_lines(document: Row) -> tuple[LivingLine, ...]:
    """Per site what there is beside accuracy, each figure with its interval; sites in the order of their names."""
    stays = {line.site: line for line in stay_lines(document)}
    skin = {place_of(row): figure(row["reaction_pct"]) for row in _rows(document, "skin", None, by_model=False)}
    ratings = {
        (place_of(row), row["rating"]): figure(row["mean_points"])
        for row in _rows(document, "ratings", None, by_model=False)
    }
    labels = {
        place_of(row): said(row["label"])
        for table in ("survival", "skin", "ratings")
        for row in _rows(document, table, None, by_model=False)
    }
    return tuple(
        LivingLine(
            place,
            label,
            (
                Named(str(ON_RATED), stays[place].rated if place in stays else NOTHING),
                Named(str(REACTED), skin.get(place, NOTHING)),
                *(Named(str(words), ratings.get((place, rating), NOTHING)) for rating, words in RATINGS.items()),
            ),
        )
        for place, label in sorted(labels.items(), key=lambda item: item[1])
    )


def _stay_line(row: Row) -> StayLine:
    return StayLine(
        site=place_of(row),
        label=said(row["label"]),
        sensor_model=row["sensor_model"],
        people=people_text(row["people"]),
        people_at_least=row["people"]["at_least"],
        days=tuple(Named(_("day %(day)s") % {"day": day}, figure(row[f"on_day_{day}_pct"])) for day in DAYS),
        rated=figure(row["on_rated_pct"]),
        ends=tuple(Named(str(words), figure(row[end])) for end, words in ENDS.items() if row[end]),
    )


def _rows(document: Row, table: str, site: str | None, by_model: bool) -> list[Row]:
    return [
        row
        for row in document["tables"].get(table, ())
        if (row["sensor_model"] is not None) == by_model and site in (None, place_of(row))
    ]
