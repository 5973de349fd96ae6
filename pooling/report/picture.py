"""The own report as one picture to keep: what the sensor mostly showed, the days of the wear, and the caution."""

import json
import textwrap
from typing import Any

import vl_convert

from pooling.caution import CAUTION_SHORT
from pooling.columns import PairColumns
from pooling.report import drawing
from pooling.report.drawing import WIDTH_PX, Spec, framed
from pooling.report.page import DAYS_NOTE, NOTHING_MEASURED, TITLE
from pooling.report.words import in_words
from pooling.tongue import ENGLISH, Say, Tongue, said_in

PNG_SCALE = 2.0
_CHARACTERS_A_LINE, _LINE_PX, _BETWEEN_PX = 54, 15, 7


def report_png(report: dict[str, Any], columns: PairColumns, unit: str, tongue: Tongue = ENGLISH) -> bytes:
    """One summary picture; arguments and errors as for `report_html`.

    Returns
    -------
    bytes
        A PNG. The caution is drawn into it, so that a picture sent on keeps it.
    """
    spec = json.dumps(summary_chart(report, columns, unit, tongue.say), sort_keys=True)
    return vl_convert.vegalite_to_png(spec, format_locale=tongue.numbers, scale=PNG_SCALE)


def summary_chart(report: dict[str, Any], columns: PairColumns, unit: str, say: Say = str) -> Spec:
    """The picture as a Vega-Lite specification; charts that the pairs do not give are left out."""
    about = (
        f"{report['site_label']}, {report['sensor_model']}, {report['worn_days']:.1f} days, {report['n_pairs']} pairs"
    )
    licence = report["licence"]
    unnamed = [licence["says"]] if licence["status"] != "named" else []
    charts = [
        _lines([TITLE], say, font_px=18, weight=600),
        _lines([about, CAUTION_SHORT, *unnamed], say),
        said_in(drawing.levels_chart(report, unit), say) if report["n_pairs"] else None,
        _lines(_said(report, unit), say),
        *([said_in(drawing.days_chart(columns), say), _lines([DAYS_NOTE], say)] if report["n_pairs"] else []),
    ]
    picture = framed({"vconcat": [chart for chart in charts if chart]}, background="#ffffff")
    return picture | {"padding": 16}


def _said(report: dict[str, Any], unit: str) -> list[str]:
    """The words without those that the bars show."""
    words = in_words(report, unit) or [NOTHING_MEASURED]
    return [*(sentence for sentence in words if not sentence.startswith("When")), report["cannot_say"][0]]


def _lines(sentences: list[str], say: Say, *, font_px: int = 12, weight: int = 400) -> Spec:
    """Paragraphs of text, each line in its place."""
    values, top = [], 0
    for sentence in sentences:
        for line in textwrap.wrap(say(sentence), _CHARACTERS_A_LINE):
            values.append({"label": line, "y": top})
            top += _LINE_PX
        top += _BETWEEN_PX
    text = drawing.text("label", "left", 0, "y", size=font_px, weight=weight)
    return {"width": WIDTH_PX, "height": top, "data": {"values": values}, **text}
