"""The body of an edition, coloured by what a reader asks to see."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from server.editions.weighing import CRITERIA
from server.web import outline, pages
from server.web.choosing import NAMES
from server.web.scale import SCALES

Row = Mapping[str, Any]
FIRST: Final = "accuracy"


@dataclass(frozen=True, slots=True)
class Way:
    """One thing the drawing may be coloured by."""

    name: str
    label: Any
    chosen: bool


def drawing(document: Row, asked: str | None, address: Callable[[str], str]) -> dict[str, Any]:
    """What `web/_body_links.html` needs: the drawing, its legend, and the other ways to colour it."""
    shown = {name: figures for name in SCALES if (figures := _figures(document, name))}
    name = asked if asked in shown else FIRST
    scale = SCALES[name]
    return {
        "drawing": outline.coloured(shown.get(name, {}), address, scale),
        "legend": scale.legend(),
        "says": scale.title,
        "ways": [Way(way, NAMES[way], way == name) for way in shown] if len(shown) > 1 else [],
    }


def _figures(document: Row, name: str) -> dict[str, Row]:
    """The published figures of one kind by site, over all sensor models."""
    return {place: row[CRITERIA[name].figure] for place, row in rows_of(document, name).items()}


def rows_of(document: Row, name: str) -> dict[str, Row]:
    """The rows that tell a figure of one kind, over all sensor models, by the word of their place."""
    criterion = CRITERIA[name]
    rows = document["tables"].get(criterion.table, ())
    return {
        pages.place_of(row): row
        for row in rows
        if row["sensor_model"] is None and row.get("rating") == criterion.rating and row[criterion.figure]
    }
