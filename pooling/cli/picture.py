"""A wear's pairs as a picture: the fingerstick across, the sensor up, and the lines of equality and of 15/15."""

import json
import textwrap
from typing import Any

import vl_convert

from pooling.caution import CAUTION_SHORT
from pooling.cli.figures import limits_text
from pooling.columns import PairColumns
from pooling.units import from_mg_dl
from pooling.vocabulary import PROMPTS

Spec = dict[str, Any]

SIDE_PX, PNG_SCALE, WORDS_A_LINE = 420, 2.0, 78
HIGHEST_SHOWN_MG_DL, STEP_MG_DL = 300, 100
_INK, _QUIET, _HUE = "#1c1c1c", "#5a5a5a", "#1f5f9e"
_SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"


def pairs_plot(columns: PairColumns, unit: str) -> Spec:
    """Every measured pair as a ring; a pair on the middle line shows the same number twice.

    Parameters
    ----------
    columns
        The pairs; those without a sensor number and those that calibrated it are left out.
    unit
        "mg/dL" or "mmol/L", the unit of both axes.

    Returns
    -------
    dict
        A Vega-Lite specification with the caution drawn into it.
    """
    measured = (columns.mark == 0) & (columns.prompt != PROMPTS.index("calibration"))
    reference = from_mg_dl(columns.reference_mg_dl[measured], unit)
    sensor = from_mg_dl(columns.sensor_mg_dl[measured], unit)
    top = float(from_mg_dl(_top_mg_dl(columns, measured), unit))
    points = [
        {"reference": round(float(x), 2), "sensor": round(float(y), 2)} for x, y in zip(reference, sensor, strict=True)
    ]
    return {
        "$schema": _SCHEMA,
        "description": f"{len(points)} pairs: the sensor's reading over the fingerstick beside it, in {unit}.",
        "title": {
            "text": "Sensor and fingerstick, pair by pair",
            "subtitle": [
                f"Solid line: both the same. Dashed lines: {limits_text(15, unit)} apart.",
                *textwrap.wrap(CAUTION_SHORT, WORDS_A_LINE),
            ],
        },
        "width": SIDE_PX,
        "height": SIDE_PX,
        "layer": [
            _line(_limit(0), top, unit, []),
            *(_line(_limit(side), top, unit, [4, 4]) for side in (-1, 1)),
            _rings(points, top, unit),
        ],
        "config": _config(),
    }


def draw_svg(spec: Spec) -> str:
    return vl_convert.vegalite_to_svg(json.dumps(spec, sort_keys=True))


def draw_png(spec: Spec) -> bytes:
    return vl_convert.vegalite_to_png(json.dumps(spec, sort_keys=True), scale=PNG_SCALE)


def _top_mg_dl(columns: PairColumns, measured: Any) -> float:
    """Where both axes end: 300, or the hundred above the highest reading."""
    readings = [*columns.reference_mg_dl[measured], *columns.sensor_mg_dl[measured], HIGHEST_SHOWN_MG_DL]
    return float(-(-max(readings) // STEP_MG_DL) * STEP_MG_DL)


def _limit(side: int) -> list[tuple[float, float]]:
    """The line 15 mg/dL from the fingerstick below 100 mg/dL and 15 % from it above; side 0 is equality itself."""
    return [(0, side * 15), (100, 100 + side * 15), (1000, 1000 + side * 150)]


def _line(corners: list[tuple[float, float]], top: float, unit: str, dash: list[int]) -> Spec:
    values = [{"reference": float(from_mg_dl(x, unit)), "sensor": float(from_mg_dl(y, unit))} for x, y in corners]
    mark = {"type": "line", "color": _QUIET, "strokeWidth": 1, "strokeDash": dash, "clip": True}
    return {"data": {"values": values}, "mark": mark, "encoding": _axes(top, unit)}


def _rings(points: list[dict[str, float]], top: float, unit: str) -> Spec:
    mark = {"type": "point", "color": _HUE, "size": 45, "strokeWidth": 1.6, "filled": False}
    return {"data": {"values": points}, "mark": mark, "encoding": _axes(top, unit)}


def _axes(top: float, unit: str) -> Spec:
    scale = {"domain": [0, top], "nice": False}
    return {
        place: {"field": field, "type": "quantitative", "scale": scale, "axis": {"title": f"{title} ({unit})"}}
        for place, field, title in (("x", "reference", "fingerstick"), ("y", "sensor", "sensor"))
    }


def _config() -> Spec:
    return {
        "background": "white",
        "font": "sans-serif",
        "axis": {"labelColor": _INK, "titleColor": _INK, "gridColor": "#e3e3e3", "labelFontSize": 12},
        "title": {"anchor": "start", "color": _INK, "subtitleColor": _QUIET, "subtitleFontSize": 10},
        "view": {"stroke": None},
    }
