"""Charts of one wear as Vega-Lite specifications, drawn from its report and its pairs; narrow enough for a phone.

The colours are those of `PALETTE` and no others, so that a page can give each of them another one in the dark.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import vl_convert

from pooling.columns import PairColumns
from pooling.errorgrids import ZONES, Line, consensus_borders, consensus_zones
from pooling.report.figures import measured
from pooling.report.words import KINDS, OTHER_KINDS, at_levels, group_labels
from pooling.summary import DAY_1_END_MIN
from pooling.tongue import ENGLISH, Tongue, said_in
from pooling.units import from_mg_dl, glucose_text

Spec = dict[str, Any]

WIDTH_PX = 316
PALETTE = {"hue": "#1f5f9e", "ink": "#1c1c1c", "quiet": "#5a5a5a", "grid": "#e3e3e3"}
_HUE, _INK, _QUIET, _GRID = PALETTE.values()
_SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"
_HEADING_PX, _LABEL_PX, _BAR_PX, _ROW_PX, _APART_PX = 22, 4, 26, 38, 12
_LOWEST_TOP_MG_DL, _TOP_STEP_MG_DL = 300, 50
_WIDEST_DAYS_PCT = 60
_LATTICE, _ROOM_FOR_A_LETTER = 60, 40


def svg(chart: Spec, tongue: Tongue = ENGLISH) -> str:
    """The chart as SVG without a background."""
    spec = json.dumps(framed(said_in(chart, tongue.say)), sort_keys=True)
    return vl_convert.vegalite_to_svg(spec, format_locale=tongue.numbers)


def framed(chart: Spec, *, background: str | None = None) -> Spec:
    """A chart as a whole specification."""
    return {"$schema": _SCHEMA, **chart, "background": background, "config": _config()}


# ---- rows of intervals -----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Row:
    """One bar: what it is called, what it reads, where it goes from and to, and where its mark stands."""

    label: str
    reads: str
    lower: float
    upper: float
    mark: float


def levels_chart(report: dict[str, Any], unit: str) -> Spec | None:
    """What the sensor mostly showed at a fingerstick and the other way round; the upright is the number itself."""
    blocks = [
        ("The fingerstick was …, the sensor mostly showed", _level_rows(report["shows"], "reference_mg_dl", unit)),
        ("The sensor said …, the fingerstick mostly was", _level_rows(report["means"], "sensor_mg_dl", unit)),
    ]
    return _rows([block for block in blocks if block[1]], f"glucose ({unit})", point="tick")


def _level_rows(entries: list[dict[str, Any]], given: str, unit: str) -> list[Row]:
    rows = []
    for entry in at_levels(entries, unit):
        level, low, high = (float(from_mg_dl(entry[name], unit)) for name in (given, "from_mg_dl", "to_mg_dl"))
        ends = (glucose_text(entry[name], unit) for name in ("from_mg_dl", "to_mg_dl"))
        rows.append(Row(f"{glucose_text(entry[given], unit)} {unit}", " to ".join(ends), low, high, level))
    return rows


def groups_chart(report: dict[str, Any], unit: str) -> Spec | None:
    """MARD by level, rate and reason, with its interval, where a group has pairs enough."""
    labels = group_labels(unit)
    blocks = []
    for kind in OTHER_KINDS:
        known = [group for group in report["groups"][kind] if group["mard_interval_pct"] is not None]
        rows = [_group_row(labels[group["name"]], group) for group in known]
        if rows:
            blocks.append((KINDS[kind], rows))
    return _rows(blocks, "average difference from the fingerstick (MARD, %)", point="point")


def _group_row(label: str, group: dict[str, Any]) -> Row:
    low, high = group["mard_interval_pct"]
    return Row(label, f"{group['mard_pct']:.1f} %", low, high, group["mard_pct"])


def _rows(blocks: Sequence[tuple[str, Sequence[Row]]], axis_title: str, *, point: str) -> Spec | None:
    if not blocks:
        return None
    headings: list[dict[str, Any]] = []
    values: list[dict[str, Any]] = []
    top = 0
    for heading, rows in blocks:
        top += _APART_PX if headings else 0
        headings.append({"label": heading, "y": top})
        top += _HEADING_PX
        for row in rows:
            values.append(
                {"label": row.label, "reads": row.reads, "lower": row.lower, "upper": row.upper, "mark": row.mark}
                | {"text_y": top + _LABEL_PX, "bar_y": top + _BAR_PX}
            )
            top += _ROW_PX
    ends = [end for _, rows in blocks for row in rows for end in (row.lower, row.upper, row.mark)]
    room = 0.04 * (max(ends) - min(ends)) or 1.0
    x = _axis("lower", axis_title, [max(0.0, min(ends) - room), max(ends) + room])
    x["axis"] |= {"grid": False}  # it would run through the labels
    bar = {"type": "rule", "size": 7, "color": _HUE, "opacity": 0.45, "strokeCap": "round"}
    return {
        "width": WIDTH_PX,
        "height": top,
        "data": {"values": values},
        "layer": [
            {"mark": bar, "encoding": {"x": x, "x2": {"field": "upper"}, **_at("bar_y")}},
            {"mark": _MARKS[point], "encoding": {"x": _plain("mark"), **_at("bar_y")}},
            text("label", "left", 0),
            text("reads", "right", WIDTH_PX),
            text("label", "left", 0, "y", weight=600) | {"data": {"values": headings}},
        ],
    }


_MARKS = {
    "tick": {"type": "tick", "orient": "vertical", "size": 17, "thickness": 2.5, "color": _INK},
    "point": {"type": "point", "filled": True, "size": 80, "opacity": 1, "color": _HUE},
}


# ---- pairs -----------------------------------------------------------------------------------------------------------


def grid_chart(columns: PairColumns, unit: str) -> Spec:
    """Every measured pair on the consensus error grid (type 1)."""
    pairs = measured(columns)
    reference, sensor = from_mg_dl(pairs.reference_mg_dl, unit), from_mg_dl(pairs.sensor_mg_dl, unit)
    highest = max(_LOWEST_TOP_MG_DL, float(np.max([pairs.reference_mg_dl, pairs.sensor_mg_dl])))
    top_mg_dl = float(-(-highest // _TOP_STEP_MG_DL) * _TOP_STEP_MG_DL)
    top = float(from_mg_dl(top_mg_dl, unit))
    x, y = _axis("x", f"fingerstick ({unit})", [0, top]), _axis("y", f"sensor ({unit})", [0, top])
    borders = [
        {"x": float(from_mg_dl(r, unit)), "y": float(from_mg_dl(s, unit)), "line": f"{number}", "order": order}
        for number, (_, corners) in enumerate(consensus_borders())
        for order, (r, s) in enumerate(_cut(corners, top_mg_dl))
    ]
    line = {"type": "line", "color": _QUIET, "strokeWidth": 1}
    return {
        "width": WIDTH_PX - 46,
        "height": WIDTH_PX - 46,
        "layer": [
            {
                "data": {"values": borders},
                "mark": line,
                "encoding": {"x": x, "y": y, "detail": {"field": "line"}, "order": {"field": "order"}},
            },
            _polyline([(0, 0), (top, top)], dash=[5, 4]),
            _dots(reference, sensor),
            _letters(top_mg_dl, unit),
        ],
    }


def _cut(corners: Line, top_mg_dl: float) -> list[tuple[float, float]]:
    """A border as far as it lies in the drawn square, its last segment run on to the edge. Borders only ever rise."""
    (x0, y0), (x1, y1) = corners[-2:]
    run_on = [*corners, (x1 + 10 * (x1 - x0), y1 + 10 * (y1 - y0))]
    inside = [corner for corner in run_on if max(corner) <= top_mg_dl]
    (x0, y0), (x1, y1) = run_on[len(inside) - 1 : len(inside) + 1]
    share = min((top_mg_dl - start) / (end - start) for start, end in ((x0, x1), (y0, y1)) if end > start)
    return [*inside, (x0 + share * (x1 - x0), y0 + share * (y1 - y0))]


def _letters(top_mg_dl: float, unit: str) -> Spec:
    """The letter of each zone in the middle of it, on either side of the diagonal; that of A at the upper end."""
    place = np.linspace(0.03, 0.97, _LATTICE) * top_mg_dl
    reference, sensor = (side.ravel() for side in np.meshgrid(place, place))
    zone = consensus_zones(reference, sensor)
    values = [_letter("A", 0.95 * top_mg_dl, 0.95 * top_mg_dl, unit)]
    for letter in ZONES[1:]:
        for side in (sensor > reference, sensor < reference):
            here = np.flatnonzero((zone == letter) & side)
            if here.size >= _ROOM_FOR_A_LETTER:
                x, y = reference[here], sensor[here]
                middle = np.argmin((x - x.mean()) ** 2 + (y - y.mean()) ** 2)
                values.append(_letter(letter, x[middle], y[middle], unit))
    mark = {"type": "text", "color": _QUIET, "fontSize": 15, "fontWeight": 600}
    encoding = {"x": _plain("x"), "y": _plain("y"), "text": {"field": "zone"}}
    return {"data": {"values": values}, "mark": mark, "encoding": encoding}


def _letter(zone: str, reference_mg_dl: float, sensor_mg_dl: float, unit: str) -> dict[str, Any]:
    return {"zone": zone, "x": float(from_mg_dl(reference_mg_dl, unit)), "y": float(from_mg_dl(sensor_mg_dl, unit))}


def days_chart(columns: PairColumns) -> Spec:
    """Each pair's difference in per cent over the days of the wear."""
    pairs = measured(columns)
    day = 1 + pairs.elapsed_min / DAY_1_END_MIN
    relative_pct = 100 * (pairs.sensor_mg_dl / pairs.reference_mg_dl - 1)
    bound = _bound(relative_pct)
    last = max(3.0, float(np.ceil(day.max())))
    y = _axis("y", "sensor against fingerstick (%)", [-bound, bound])
    x = _axis("x", "day of wear (insertion is the start of day 1)", [1, last])
    x["axis"] |= {"tickMinStep": 1, "format": "d"}
    return {
        "width": WIDTH_PX - 46,
        "height": 200,
        "layer": [
            _polyline([(1, 0), (last, 0)]),
            *(_polyline([(1, side), (last, side)], dash=[3, 4]) for side in (-15, 15)),
            _dots(day, np.clip(relative_pct, -bound, bound), x, y),
        ],
    }


def _bound(relative_pct: np.ndarray) -> float:
    """Where the axis ends: 30 %, or more in tens up to 60; what lies beyond is drawn at the edge."""
    return float(np.clip(10 * np.ceil(np.abs(relative_pct).max() / 10), 30, _WIDEST_DAYS_PCT))


def limits_chart(columns: PairColumns, report: dict[str, Any], unit: str) -> Spec:
    """Difference over the mean of both, with the limits of agreement."""
    pairs = measured(columns)
    reference, sensor = from_mg_dl(pairs.reference_mg_dl, unit), from_mg_dl(pairs.sensor_mg_dl, unit)
    mean, difference = (reference + sensor) / 2, sensor - reference
    found = {name: float(from_mg_dl(report["limits"]["mg_dl"][name], unit)) for name in ("lower", "bias", "upper")}
    far = 1.08 * max(float(np.abs(difference).max()), *map(abs, found.values()))
    left, right = 0.95 * float(mean.min()), 1.03 * float(mean.max())
    x = _axis("x", f"mean of sensor and fingerstick ({unit})", [left, right])
    y = _axis("y", f"sensor minus fingerstick ({unit})", [-far, far])
    return {
        "width": WIDTH_PX - 46,
        "height": 220,
        "layer": [
            *(
                _polyline([(left, found[name]), (right, found[name])], dash=dash)
                for name, dash in (("lower", [5, 4]), ("bias", []), ("upper", [5, 4]))
            ),
            _dots(mean, difference, x, y),
        ],
    }


# ---- parts -----------------------------------------------------------------------------------------------------------


def _dots(x: np.ndarray, y: np.ndarray, x_axis: Spec | None = None, y_axis: Spec | None = None) -> Spec:
    values = [{"x": round(float(one), 3), "y": round(float(other), 3)} for one, other in zip(x, y, strict=True)]
    mark = {"type": "point", "color": _HUE, "filled": False, "size": 36, "strokeWidth": 1.5, "opacity": 0.85}
    return {
        "data": {"values": values},
        "mark": mark,
        "encoding": {"x": x_axis or _plain("x"), "y": y_axis or _plain("y")},
    }


def _polyline(corners: Sequence[tuple[float, float]], dash: Sequence[int] = ()) -> Spec:
    values = [{"x": x, "y": y} for x, y in corners]
    mark = {"type": "line", "color": _INK, "strokeWidth": 1, "strokeDash": list(dash)}
    return {"data": {"values": values}, "mark": mark, "encoding": {"x": _plain("x"), "y": _plain("y")}}


def _axis(field: str, title: str, domain: Sequence[float]) -> Spec:
    scale = {"domain": list(domain), "nice": False, "zero": False}
    return {"field": field, "type": "quantitative", "scale": scale, "axis": {"title": title, "tickCount": 5}}


def _plain(field: str) -> Spec:
    return {"field": field, "type": "quantitative"}


def _at(field: str) -> Spec:
    """Pixels from the top."""
    return {"y": {"field": field, "type": "quantitative", "scale": None}}


def text(field: str, align: str, x: int, y: str = "text_y", *, size: int = 12, weight: int = 400) -> Spec:
    """Words of a field, `x` pixels from the left and as many from the top as another field says."""
    mark = {"type": "text", "align": align, "baseline": "top", "color": _INK, "fontSize": size, "fontWeight": weight}
    return {"mark": mark, "encoding": {"x": {"value": x}, **_at(y), "text": {"field": field}}}


def _config() -> Spec:
    axis = {"labelColor": _INK, "titleColor": _INK, "gridColor": _GRID, "domainColor": _QUIET, "tickColor": _QUIET}
    return {
        "font": "sans-serif",
        "padding": 4,
        "view": {"stroke": None},
        "axis": axis | {"labelFontSize": 11, "titleFontSize": 12, "titleFontWeight": 400},
        "concat": {"spacing": 18},
    }
