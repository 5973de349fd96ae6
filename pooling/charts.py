"""Charts of an edition as Vega-Lite specifications: points with 95 % intervals, one row each, labels beside them.

A specification holds the document's published numbers and places on the page, nothing else. The caution is drawn into
every picture, so that a saved one keeps it.
"""

import json
import textwrap
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import vl_convert

from pooling.marks import CONTRAST_AXIS, NO_ROWS, SHOWN, SITE_AXIS, Mark, finding, marks_of, more_to_know
from pooling.tongue import Say

__all__ = [
    "CHARTS",
    "CONTRAST_AXIS",
    "NO_ROWS",
    "SITE_AXIS",
    "chart_svg",
    "forest_plot",
]

Spec = dict[str, Any]

CHARTS = tuple(SHOWN)

_HUE, _PALE, _INK, _QUIET, _GRID = "#1f5f9e", "#b9cbdf", "#1c1c1c", "#5a5a5a", "#e3e3e3"
_FONT_SIZE, _SMALL = 12, 10
# Widths of a character, taken on the wide side so that a line of text stays inside the picture.
_PX_PER_CHARACTER, _PX_PER_SMALL, _PX_PER_SUBTITLE, _PX_PER_TITLE = 6.6, 5.5, 6.1, 7.8
_MARGIN, _LINE, _SMALL_LINE, _ABOVE_INTERVAL, _BELOW_INTERVAL, _AXIS_ROOM = 12, 14, 13, 9, 18, 50
_DOMAIN_PADDING = 0.04
_SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"


def forest_plot(document: dict, table: str, *, width: int = 640, say: Say = str) -> Spec:
    """The rows of a table as points with 95 % intervals, the smallest value of each sensor model first.

    Parameters
    ----------
    document
        An edition document.
    table
        One of CHARTS; of contrasts the primary ones over all sensor models, as far as there are any, and of the
        shares those over all sensor models that are told with an interval.
    width
        Width of the whole picture in pixels, readable from 320.
    say
        Says an English sentence or name in the language of the picture.

    Returns
    -------
    dict
        A Vega-Lite specification with the finding as its description.

    Raises
    ------
    InvalidInput
        If there is no such chart.
    """
    marks = marks_of(document, table)
    chart = SHOWN[table]
    edition = f"{document['group']['name']}, edition {document['number']} of {document['cut_off']}."
    subtitle = [edition, "Points with 95 % intervals.", chart.hint, *more_to_know(document, table)]
    inner = width - 2 * _MARGIN
    return {
        "$schema": _SCHEMA,
        "description": say(finding(document, table)),
        "title": {
            "text": _wrapped(say(chart.title), inner, _PX_PER_TITLE),
            "subtitle": _wrapped(" ".join(map(say, subtitle)), inner, _PX_PER_SUBTITLE),
        },
        "width": inner,
        **_drawing(marks, inner, say(document["caution"]["short"]), say(chart.axis), say),
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


def _drawing(marks: Sequence[Mark], inner: int, caution: str, axis_title: str, say: Say) -> Spec:
    if not marks:
        note = {"data": {"values": [{}]}, "mark": _text("left", _INK), "encoding": {"text": {"value": say(NO_ROWS)}}}
        return {"height": 2 * _LINE, "layer": [_at(note, 0, 0), _caution(caution, inner, 2 * _LINE)]}
    values, height = _placed(marks, inner, say)
    signed = marks[0].signed
    return {
        "height": height,
        "data": {"values": values},
        "layer": [
            *([_zero_marks()] if signed else []),
            *_people_ranges(marks, values),
            {"mark": {"type": "rule", "size": 2, "color": _HUE}, "encoding": {**_interval(marks, axis_title), **_y()}},
            {"mark": _point(), "encoding": {"x": _x(), **_y(), "shape": _shape()}},
            _label("label", "left", 0),
            _label("reads", "right", inner),
            _caution(caution, inner, height + _AXIS_ROOM),
        ],
    }


def _placed(marks: Sequence[Mark], inner: int, say: Say) -> tuple[list[dict[str, object]], int]:
    """Each mark with the pixels from the top at which its label and its interval are drawn, and the whole height."""
    values, top = [], 4
    for mark in marks:
        reads = say(mark.reads)
        lines = _wrapped(mark.label(say), inner - _PX_PER_CHARACTER * (len(reads) + 1), _PX_PER_CHARACTER)
        line_y = top + len(lines) * _LINE + _ABOVE_INTERVAL
        values.append(
            {
                "label": "\n".join(lines),
                "reads": reads,
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


def _interval(marks: Sequence[Mark], axis_title: str) -> Spec:
    ends = [end for mark in marks for end in (mark.lower, mark.upper, *(mark.people_range or ()))]
    ends += [0.0] if marks[0].signed else []
    room = _DOMAIN_PADDING * (max(ends) - min(ends))
    scale = {"domain": [min(ends) - room, max(ends) + room], "nice": False, "zero": False}
    axis = {"title": axis_title, "tickCount": 5, "labelBound": True}
    axis |= {"gridColor": _GRID, "domainColor": _QUIET, "tickColor": _QUIET}
    return {
        "x": {"field": "lower", "type": "quantitative", "scale": scale, "axis": axis},
        "x2": {"field": "upper"},
    }


def _people_ranges(marks: Sequence[Mark], values: Sequence[dict[str, object]]) -> list[Spec]:
    """Wide pale bars behind the intervals, where the document tells how people differ."""
    bars = [
        {"from": mark.people_range[0], "to": mark.people_range[1], "line_y": value["line_y"]}
        for mark, value in zip(marks, values, strict=True)
        if mark.people_range
    ]
    if not bars:
        return []
    ends = {"x": {"field": "from", "type": "quantitative"}, "x2": {"field": "to"}, **_y()}
    return [{"data": {"values": bars}, "mark": {"type": "rule", "size": 8, "color": _PALE}, "encoding": ends}]


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
