"""The own report as one HTML file that needs nothing else: no script, no other file, no request."""

import xml.etree.ElementTree as ET
from collections.abc import Sequence
from typing import Any

from pooling.caution import CAUTION_SHORT
from pooling.columns import PairColumns
from pooling.report import drawing, findings, markup, tables
from pooling.report.markup import el
from pooling.report.style import STYLE
from pooling.report.tables import Table
from pooling.report.words import OTHER_KINDS, in_words, rules
from pooling.tongue import ENGLISH, Tongue

TITLE = "Report of one wear"
NOTHING_MEASURED = "There is no pair to measure; time on the skin counts all the same."
DAYS_NOTE = (
    "Each ring is a pair. On the line, sensor and fingerstick agree; above it the sensor reads higher. "
    "Dashes: 15 % apart."
)
NO_REMARKS = "Nothing in these readings looks odd."
_ALONE = "default-src 'none'; style-src 'unsafe-inline'"


def report_html(report: dict[str, Any], columns: PairColumns, unit: str, tongue: Tongue = ENGLISH) -> str:
    """The report as a page to read on a phone or a wide screen, in light or dark, and to print.

    Parameters
    ----------
    report
        What `wear_report` gave for these pairs.
    columns
        The pairs of the wear, for the charts.
    unit
        "mg/dL" or "mmol/L", the reader's.
    tongue
        The reader's language.

    Returns
    -------
    str
        A whole HTML document. It names the site and no person, and asks for nothing from elsewhere.

    Raises
    ------
    InvalidInput
        If there is no such unit.
    """
    head = el(
        "head",
        el("meta", charset="utf-8"),
        el("meta", name="viewport", content="width=device-width, initial-scale=1"),
        el("meta", http_equiv="Content-Security-Policy", content=_ALONE),
        el("meta", name="referrer", content="no-referrer"),
        el("title", TITLE),
        el("style", STYLE),
    )
    html = el("html", head, el("body", el("main", _sections(report, columns, unit, tongue))), lang=tongue.code)
    markup.say_all(html, tongue.say)
    return markup.page(html)


def _sections(report: dict[str, Any], columns: PairColumns, unit: str, tongue: Tongue) -> list[ET.Element]:
    measured = bool(report["n_pairs"])
    caution = [el("p", line) for line in report["caution"]["text"].split("\n")]
    return [
        *_opening(report, unit),
        *(_in_life(report, columns, unit, tongue) if measured else []),
        _section("The lows", _table(tables.lows(report))),
        _section("The wear itself", _table(tables.wear(report))),
        _section("What looks odd", _list([_remark(finding) for finding in report["findings"]] or [NO_REMARKS])),
        _section("What one wear cannot say", _list(report["cannot_say"])),
        *(_in_figures(report, columns, unit, tongue) if measured else []),
        _section("The whole caution", *caution, class_="caution"),
    ]


def _opening(report: dict[str, Any], unit: str) -> list[ET.Element]:
    about = f"{report['site_label']}, {report['sensor_model']}, worn {report['worn_days']:.1f} days"
    return [
        el("h1", TITLE),
        el("p", about, class_="soft"),
        el("div", el("p", CAUTION_SHORT), class_="caution"),
        *(
            [el("div", el("p", report["licence"]["says"]), class_="caution")]
            if report["licence"]["status"] != "named"
            else []
        ),
        _section("In short", _list(in_words(report, unit) or [NOTHING_MEASURED]), *_mostly(report), class_="lead"),
    ]


def _mostly(report: dict[str, Any]) -> list[ET.Element]:
    return [el("p", "Mostly: four in five times.", class_="note")] if report.get("shows") else []


def _remark(finding: dict[str, str]) -> str:
    return " ".join((finding["seen"], finding["why"], finding["do"]))


def _in_life(report: dict[str, Any], columns: PairColumns, unit: str, tongue: Tongue) -> list[ET.Element]:
    """The charts that say most to a wearer. What too few pairs cannot fill is left out."""
    sections = []
    if chart := drawing.levels_chart(report, unit):
        note = (
            "The bars hold four in five readings, the upright is the number itself. "
            "Numbers that this wear has no readings near are left out."
        )
        figure = _figure(chart, findings.of_levels(report, unit), note, tables.levels(report, unit), tongue)
        sections.append(_section("What it mostly showed", figure))
    phases = tables.groups(report, unit, ["phase"], "By day of wear")
    days = _figure(drawing.days_chart(columns), findings.of_days(report, unit), DAYS_NOTE, phases, tongue)
    sections.append(_section("Over the days", days))
    if chart := drawing.groups_chart(report, unit):
        note = (
            "The point is the average difference in per cent (MARD), the bar what it could as well be. Fingersticks "
            "taken in doubt find the bad moments and make any sensor look worse than it is."
        )
        table = tables.groups(report, unit, OTHER_KINDS, "By level, by how fast glucose moved, and by reason")
        figure = _figure(chart, findings.of_groups(report, unit), note, table, tongue)
        sections.append(_section("When it was nearer, and when farther off", figure))
    return sections


def _in_figures(report: dict[str, Any], columns: PairColumns, unit: str, tongue: Tongue) -> list[ET.Element]:
    """The same in the trade's own measures."""
    said = rules(unit)
    note = f"Zones by the lines of the consensus grid for type 1 diabetes; dashes: both the same. {_margins(report)}"
    grid = _figure(drawing.grid_chart(columns, unit), findings.of_grid(report), note, tables.zones(report), tongue)
    sections = [_section("The trade's measures", _table(tables.measures(report, unit)), grid)]
    if report["limits"]:
        chart = drawing.limits_chart(columns, report, unit)
        table = tables.limits(report, unit)
        figure = _figure(chart, findings.of_limits(report, unit), f"Limits: {said['limits']}.", table, tongue)
        sections.append(_section("Limits of agreement", figure))
    if report["lines"]:
        line = el("p", f"Lines: {said['lines']}.", class_="note")
        sections.append(_section("Straight lines between the two", _table(tables.lines(report, unit)), line))
    return sections


def _margins(report: dict[str, Any]) -> str:
    if "draws" not in report:
        return "Too few moments for a margin of any figure."
    draws = report["draws"]
    return (
        f"“Could be” is a margin of 95 %: {draws['n_draws']:,} drawings of {draws['n_stretches']} stretches of "
        f"{draws['stretch_hours']:g} hours of this wear. It knows nothing of other sensors."
    )


# ---- parts -----------------------------------------------------------------------------------------------------------


def _section(title: str, *content: ET.Element, class_: str = "part") -> ET.Element:
    return el("section", el("h2", title), content, class_=class_)


def _list(sentences: Sequence[str]) -> ET.Element:
    return el("ul", [el("li", sentence) for sentence in sentences])


def _figure(chart: drawing.Spec, finding: str, note: str, table: Table, tongue: Tongue) -> ET.Element:
    """A chart with what it shows as its name, the same numbers as a table beside it, and the caution under it."""
    caption = el("figcaption", el("p", finding), el("p", note), el("p", CAUTION_SHORT))
    beside = el("div", markup.drawing(drawing.svg(chart, tongue), finding), _table(table), class_="beside")
    return el("figure", beside, caption)


def _table(table: Table) -> ET.Element:
    header = [el("th", name, scope="col") for name in table.header]
    rows = [el("tr", el("th", first, scope="row"), [el("td", cell) for cell in rest]) for first, *rest in table.rows]
    head = [el("thead", el("tr", header))] if any(table.header) else []
    return el("div", el("table", el("caption", table.caption), head, el("tbody", rows)), class_="table")
