"""Any table of an edition's document as words for a page, whether or not this release knows its name.

A table that is older or newer than this release still has a title, column names and cells: what has no words here is
named by its own name in the document, and its unit is read from the end of that name.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from server.editions.rendering import TITLES, column_meaning
from server.web.pages import figure, number_text, people_text, place_of
from server.web.saying import glucose_text, said
from server.web.within import COLUMNS

Row = Mapping[str, Any]

# Tables with sections of their own on the pages.
WITH_SECTIONS: Final = frozenset(
    (
        "sites",
        "sites_by_model",
        "contrasts",
        "survival",
        "skin",
        "ratings",
        *COLUMNS,
        "lows",
        "lots",
        "when_the_sensor_says",
    )
)
_WHERE: Final = frozenset(("site", "region", "label", "people", "withheld"))
_TITLES: Final = {
    "phases": gettext_lazy("Day by day of wear"),
    "ranges": gettext_lazy("At low, middle and high glucose"),
    "prompts": gettext_lazy("Why the finger was pricked"),
    "when_the_sensor_says": gettext_lazy("When the sensor says"),
    "lows": gettext_lazy("Lows missed and false lows"),
    "lots": gettext_lazy("Sites by lot against chosen sites"),
}
_COLUMNS: Final = {
    "label": gettext_lazy("Site"),
    "sensor_model": gettext_lazy("Sensor model"),
    "people": gettext_lazy("People"),
    "mard_pct": gettext_lazy("Expected difference (MARD, %)"),
    "phase": gettext_lazy("Days of wear"),
    "how_sure": gettext_lazy("How sure"),
    "n_wears": gettext_lazy("Wears"),
    "n_pairs": gettext_lazy("Pairs"),
}
_UNITS: Final = {
    "pct": "%",
    "points": gettext_lazy("points"),
    "days": gettext_lazy("days"),
    "min": gettext_lazy("minutes"),
}


@dataclass(frozen=True, slots=True)
class Cell:
    """What stands in one cell, under which header, and whether it is a number."""

    header: str
    text: str
    is_number: bool


@dataclass(frozen=True, slots=True)
class Line:
    """One row: the site it is about, and its cells."""

    site: str
    label: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table of the document, ready for a page."""

    name: str
    title: str
    meanings: tuple[tuple[str, str], ...]
    headers: tuple[str, ...]
    lines: tuple[Line, ...]


def other_tables(document: Row, unit: str, *, site: str | None = None) -> tuple[Table, ...]:
    """Every table that has no section of its own and has rows: all of them, or those of one site."""
    found = (_table(name, rows, unit, site) for name, rows in document["tables"].items() if name not in WITH_SECTIONS)
    return tuple(table for table in found if table.lines)


def _table(name: str, rows: list[Row], unit: str, site: str | None) -> Table:
    about = [row for row in rows if site is None or place_of(row) == site]
    columns = [column for column in dict.fromkeys(key for row in about for key in row) if column not in _WHERE]
    told = [column for column in columns if any(row.get(column) is not None for row in about)]
    told += ["people"] if any(row.get("people") for row in about) else []
    return Table(
        name=name,
        title=title_of(name),
        meanings=tuple((header(column, unit), said(meaning)) for column in told if (meaning := column_meaning(column))),
        headers=tuple(header(column, unit) for column in told),
        lines=tuple(
            Line(place_of(row), said(row["label"]), tuple(_cell(column, row.get(column), unit) for column in told))
            for row in about
        ),
    )


def title_of(name: str) -> str:
    """What a table is called; by its own name where it has no other."""
    return str(_TITLES.get(name) or said(TITLES.get(name) or _readable(name)))


def header(column: str, unit: str) -> str:
    """The words above a column, with the unit that the end of its name tells."""
    if column in _COLUMNS:
        return str(_COLUMNS[column])
    if column.endswith("_mg_dl"):
        return f"{_readable(column.removesuffix('_mg_dl'))} ({unit})"
    if column.endswith("_per_1000"):
        return _("%(what)s (of 1,000)") % {"what": _readable(column.removesuffix("_per_1000"))}
    stem, _part, ending = column.rpartition("_")
    return f"{_readable(stem)} ({_UNITS[ending]})" if stem and ending in _UNITS else _readable(column)


def _readable(name: str) -> str:
    words = name.replace("_", " ").replace(".", ", ")
    return words[:1].upper() + words[1:]


def _cell(column: str, value: Any, unit: str) -> Cell:
    return Cell(header(column, unit), _text(column, value, unit), not isinstance(value, str) and column != "people")


def _text(column: str, value: Any, unit: str) -> str:
    match value:
        case None:
            return _("not told")
        case bool():
            return _("yes") if value else _("no")
        case str():
            return said(value)
        case {"at_least": _, "below": _}:
            return people_text(value)
        case dict():
            return figure(_in_unit(column, value, unit)).text or _("not told")
        case int() | float():
            return glucose_text(value, unit) if column.endswith("_mg_dl") else number_text(value)
        case list():
            return "; ".join(_text(column, entry, unit) for entry in value)
    return str(value)


def _in_unit(column: str, told: Row, unit: str) -> Row:
    """The same figure in the reader's unit, where it is glucose."""
    if not column.endswith("_mg_dl"):
        return told
    return {**told, **{part: glucose_text(told[part], unit) for part in ("value", "lower", "upper") if part in told}}
