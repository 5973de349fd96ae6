"""Charts of an edition as Vega-Lite specifications: points with 95 % intervals, one row each, labels beside them.

A specification holds the document's published numbers and places on the page, nothing else. The caution is drawn into
every picture, so that a saved one keeps it.
"""

import json
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import vl_convert

from pooling.edition import BASIS_CHOICE, table_rows
from pooling.errors import InvalidInput

Spec = dict[str, Any]

CHARTS = ("sites", "sites_by_model", "contrasts")
SITE_AXIS = "expected difference from fingerstick (MARD, %)"
CONTRAST_AXIS = "difference in expected MARD (points)"
NO_ROWS = "There is nothing to draw in this edition."

_HUE, _INK, _QUIET, _GRID = "#1f5f9e", "#1c1c1c", "#5a5a5a", "#e3e3e3"
_FONT_SIZE, _SMALL = 12, 10
# Widths of a character, taken on the wide side so that a line of text stays inside the picture.
_PX_PER_CHARACTER, _PX_PER_SMALL, _PX_PER_SUBTITLE, _PX_PER_TITLE = 6.6, 5.5, 6.1, 7.8
_MARGIN, _LINE, _SMALL_LINE, _ABOVE_INTERVAL, _BELOW_INTERVAL, _AXIS_ROOM = 12, 14, 13, 9, 18, 50
_DOMAIN_PADDING = 0.04
_SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"


@dataclass(frozen=True, slots=True)
class _Mark:
    """One row of a chart: what it is called, where its point and interval lie, and how they read."""

    name: str
    sensor_model: str | None
    value: float
    lower: float
    upper: float
    people_at_least: int
    licensed: bool
    signed: bool

    @property
    def label(self) -> str:
        parts = [self.name, self.sensor_model or "", "licensed" if self.licensed else ""]
        return ", ".join([*filter(None, parts), f"{self.people_at_least}+\N{NO-BREAK SPACE}people"])

    @property
    def reads(self) -> str:
        sign = "+" if self.signed and self.value > 0 else ""
        return f"{sign}{_number(self.value)} ({_number(self.lower)} to {_number(self.upper)})"


def forest_plot(document: dict, table: str, *, width: int = 640) -> Spec:
    """The rows of a table as points with 95 % intervals, the smallest value of each sensor model first.

    Parameters
    ----------
    document
        An edition document.
    table
        "sites", "sites_by_model" or "contrasts"; of contrasts the primary ones, if there are any.
    width
        Width of the whole picture in pixels, readable from 320.

    Returns
    -------
    dict
        A Vega-Lite specification with the finding as its description.

    Raises
    ------
    InvalidInput
        If there is no such chart.
    """
    marks = _marks(document, table)
    group, contrasts = document["group"]["name"], table == "contrasts"
    title = "Sites against each other" if contrasts else "Difference from fingerstick by site"
    hint = _contrast_hint(document) if contrasts else "Further left is closer to the fingerstick."
    subtitle = f"{group}, edition {document['number']} of {document['cut_off']}. Points with 95 % intervals. {hint}"
    inner = width - 2 * _MARGIN
    return {
        "$schema": _SCHEMA,
        "description": chart_alt_text(document, table),
        "title": {
            "text": _wrapped(title, inner, _PX_PER_TITLE),
            "subtitle": _wrapped(subtitle, inner, _PX_PER_SUBTITLE),
        },
        "width": inner,
        **_drawing(marks, inner, document["caution"]["short"], CONTRAST_AXIS if contrasts else SITE_AXIS),
        "config": _config(),
    }


def chart_svg(document: dict, table: str) -> str:
    """The chart drawn, at its usual width. Another version of the drawing library, or other fonts, draw other bytes.

    Raises
    ------
    InvalidInput
        If there is no such chart.
    """
    return _drawn(json.dumps(forest_plot(document, table), sort_keys=True))


@lru_cache(maxsize=16)
def _drawn(spec: str) -> str:
    return str(vl_convert.vegalite_to_svg(spec))


def chart_alt_text(document: dict, table: str) -> str:
    """What the chart shows, in one sentence, for those who do not see it.

    Raises
    ------
    InvalidInput
        If there is no such chart.
    """
    marks = _marks(document, table)
    if not marks:
        return NO_ROWS
    return _contrast_finding(marks) if table == "contrasts" else _site_finding(marks)


def chart_table(document: dict, table: str) -> list[dict[str, str]]:
    """The numbers of the chart in its order, as words for the table beside it: label, people, value and interval.

    Raises
    ------
    InvalidInput
        If there is no such chart.
    """
    return [
        {
            "label": mark.name,
            "sensor_model": mark.sensor_model or "",
            "licensed": "yes" if mark.licensed else "",
            "people": f"at least {mark.people_at_least}",
            "value": mark.reads.partition(" ")[0],
            "interval": f"{_number(mark.lower)} to {_number(mark.upper)}",
        }
        for mark in _marks(document, table)
    ]


def _marks(document: dict, table: str) -> list[_Mark]:
    if table not in CHARTS:
        raise InvalidInput(f"no such chart; choose one of {', '.join(CHARTS)}")
    rows = table_rows(document, table)
    if table == "contrasts":
        primary = [row for row in rows if row["primary"]]
        marks = [_contrast_mark(row) for row in primary or rows]
    else:
        marks = [_site_mark(row) for row in rows]
    return sorted(marks, key=lambda mark: (mark.sensor_model or "", mark.value, mark.name))


def _contrast_hint(document: dict) -> str:
    hint = "Right of the zero marks the first site is further from the fingerstick."
    chosen = any(row["basis"] == BASIS_CHOICE for row in table_rows(document, "contrasts"))
    return f"{hint} Some differences rest partly on who chose which site." if chosen else hint


def _site_mark(row: dict) -> _Mark:
    figure, people = row["mard_pct"], row["people"]["at_least"]
    ends = figure["value"], figure["lower"], figure["upper"]
    return _Mark(row["label"], row["sensor_model"], *ends, people, row["licensed"] is True, signed=False)


def _contrast_mark(row: dict) -> _Mark:
    figure, people = row["difference_points"], row["people"]["at_least"]
    ends = figure["value"], figure["lower"], figure["upper"]
    return _Mark(f"{row['label_a']} against {row['label_b']}", row["sensor_model"], *ends, people, False, signed=True)


def _site_finding(marks: Sequence[_Mark]) -> str:
    first, last = min(marks, key=lambda mark: mark.value), max(marks, key=lambda mark: mark.value)
    if len(marks) == 1:
        return f"The expected difference from the fingerstick (MARD, %) is {_told(first)}, the only row."
    apart = "do not overlap" if first.upper < last.lower else "overlap"
    return (
        f"Of {len(marks)} rows, the expected difference from the fingerstick (MARD, %) is smallest for {_told(first)}, "
        f"and largest for {_told(last)}; these two 95 % intervals {apart}."
    )


def _contrast_finding(marks: Sequence[_Mark]) -> str:
    clear = sum(mark.lower > 0 or mark.upper < 0 for mark in marks)
    largest = max(marks, key=lambda mark: abs(mark.value))
    return (
        f"Of {len(marks)} comparisons, {clear} have a 95 % interval that leaves out zero; the largest difference in "
        f"expected MARD, in points, is that of {_told(largest)}."
    )


def _number(number: float) -> str:
    """As published, with a true minus sign."""
    return f"{number}".replace("-", "−")


def _told(mark: _Mark) -> str:
    model = f", {mark.sensor_model}" if mark.sensor_model else ""
    return f"{mark.name}{model}: {mark.reads}, at least {mark.people_at_least} people"


def _drawing(marks: Sequence[_Mark], inner: int, caution: str, axis_title: str) -> Spec:
    if not marks:
        note = {"data": {"values": [{}]}, "mark": _text("left", _INK), "encoding": {"text": {"value": NO_ROWS}}}
        return {"height": 2 * _LINE, "layer": [_at(note, 0, 0), _caution(caution, inner, 2 * _LINE)]}
    values, height = _placed(marks, inner)
    signed = marks[0].signed
    return {
        "height": height,
        "data": {"values": values},
        "layer": [
            *([_zero_marks()] if signed else []),
            {"mark": {"type": "rule", "size": 2, "color": _HUE}, "encoding": {**_interval(marks, axis_title), **_y()}},
            {"mark": _point(), "encoding": {"x": _x(), **_y(), "shape": _shape()}},
            _label("label", "left", 0),
            _label("reads", "right", inner),
            _caution(caution, inner, height + _AXIS_ROOM),
        ],
    }


def _placed(marks: Sequence[_Mark], inner: int) -> tuple[list[dict[str, object]], int]:
    """Each mark with the pixels from the top at which its label and its interval are drawn, and the whole height."""
    values, top = [], 4
    for mark in marks:
        lines = _wrapped(mark.label, inner - _PX_PER_CHARACTER * (len(mark.reads) + 1), _PX_PER_CHARACTER)
        line_y = top + len(lines) * _LINE + _ABOVE_INTERVAL
        values.append(
            {
                "label": "\n".join(lines),
                "reads": mark.reads,
                "value": mark.value,
                "lower": mark.lower,
                "upper": mark.upper,
                "licensed": mark.licensed,
                "text_y": top,
                "line_y": line_y,
            }
        )
        top = line_y + _BELOW_INTERVAL
    return values, top


def _wrapped(text: str, room_px: float, px_per_character: float) -> list[str]:
    return textwrap.wrap(text, max(12, int(room_px / px_per_character)), break_long_words=False)


def _x() -> Spec:
    return {"field": "value", "type": "quantitative"}


def _y(field: str = "line_y") -> Spec:
    return {"y": {"field": field, "type": "quantitative", "scale": None}}


def _zero_marks() -> Spec:
    """A short upright at zero in every row; a line through the whole picture would run through the labels."""
    return {
        "mark": {"type": "tick", "size": 16, "thickness": 1, "color": _INK},
        "encoding": {"x": {"datum": 0}, **_y()},
    }


def _interval(marks: Sequence[_Mark], axis_title: str) -> Spec:
    ends = [mark.lower for mark in marks] + [mark.upper for mark in marks] + ([0.0] if marks[0].signed else [])
    room = _DOMAIN_PADDING * (max(ends) - min(ends))
    scale = {"domain": [min(ends) - room, max(ends) + room], "nice": False, "zero": False}
    axis = {"title": axis_title, "tickCount": 5, "gridColor": _GRID, "domainColor": _QUIET, "tickColor": _QUIET}
    return {
        "x": {"field": "lower", "type": "quantitative", "scale": scale, "axis": axis},
        "x2": {"field": "upper"},
    }


def _point() -> Spec:
    return {"type": "point", "filled": True, "size": 90, "color": _HUE, "opacity": 1}


def _shape() -> Spec:
    return {
        "field": "licensed",
        "type": "nominal",
        "scale": {"domain": [False, True], "range": ["circle", "diamond"]},
        "legend": None,
    }


def _text(align: str, color: str, *, size: int = _FONT_SIZE) -> Spec:
    return {
        "type": "text",
        "align": align,
        "baseline": "top",
        "color": color,
        "fontSize": size,
        "lineBreak": "\n",
        "lineHeight": _LINE,
    }


def _label(field: str, align: str, x: int) -> Spec:
    return {"mark": _text(align, _INK), "encoding": {"x": {"value": x}, **_y("text_y"), "text": {"field": field}}}


def _at(layer: Spec, x: int, y: int) -> Spec:
    return layer | {"encoding": layer["encoding"] | {"x": {"value": x}, "y": {"value": y}}}


def _caution(caution: str, inner: int, y: int) -> Spec:
    lines = "\n".join(_wrapped(caution, inner, _PX_PER_SMALL))
    layer = {
        "data": {"values": [{}]},
        "mark": _text("left", _QUIET, size=_SMALL) | {"lineHeight": _SMALL_LINE},
        "encoding": {"text": {"value": lines}},
    }
    return _at(layer, 0, y)


def _config() -> Spec:
    return {
        "background": "#ffffff",
        "padding": _MARGIN,
        "font": "sans-serif",
        "view": {"stroke": None},
        "axis": {
            "labelColor": _INK,
            "titleColor": _INK,
            "labelFontSize": 11,
            "titleFontSize": 12,
            "titleFontWeight": 400,
        },
        "title": {"anchor": "start", "color": _INK, "fontSize": 14, "subtitleColor": _QUIET, "offset": 12},
    }
