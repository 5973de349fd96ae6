"""`commonwear report`: what one wear says, and what it cannot say."""

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any

import typer

from pooling.checks import Finding
from pooling.cli.records import judge, show_findings, valid_record, write_bytes
from pooling.cli.terminal import Terminal
from pooling.columns import columns_from
from pooling.report import in_words, report_html, report_png, tables, wear_report
from pooling.report.page import NO_REMARKS, NOTHING_MEASURED
from pooling.report.tables import Table
from pooling.report.words import KINDS
from pooling.vocabulary import GlucoseUnit


def report(
    file: Annotated[str, typer.Argument(metavar="FILE", hidden=True)],
    unit: Annotated[
        GlucoseUnit | None,
        typer.Option(
            "--unit",
            metavar="UNIT",
            case_sensitive=False,
            help="mg/dL or mmol/L for every figure; the record's own unless given.",
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON value on standard output, in mg/dL.")] = False,
    page: Annotated[
        Path | None, typer.Option("--html", metavar="FILE", help="Write the report as a page into this file.")
    ] = None,
    picture: Annotated[
        Path | None, typer.Option("--png", metavar="FILE", help="Draw the report into this file as one picture.")
    ] = None,
) -> None:
    """Say what a wear shows. Nothing leaves this device.

    FILE is a wear record; - reads it from standard input.

    \b
    Examples:
      commonwear report wear.json
      commonwear report wear.json --unit mmol/L
      commonwear report wear.json --html wear.html --png wear.png
      commonwear report wear.json --json > report.json
    """
    terminal = Terminal(as_json=as_json)
    record = valid_record(judge(file), terminal)
    shown_in = str(unit or record.glucose_unit)
    columns = columns_from(record)
    content = wear_report(columns, record, unit=shown_in)
    if picture:
        _write(picture, report_png(content, columns, shown_in), terminal)
    if page:
        _write(page, report_html(content, columns, shown_in).encode(), terminal)
    terminal.answer(content)
    if not as_json:
        show_report(content, shown_in, terminal)
    terminal.caution()


def show_report(content: dict[str, Any], unit: str, terminal: Terminal) -> None:
    """The report as text: life units first, figures after them, limits last."""
    terminal.say(f"What one wear on the {content['site_label']} says", style="bold")
    terminal.say(content["licence"]["says"], indent=2)
    for sentence in in_words(content, unit) or [NOTHING_MEASURED]:
        terminal.say(sentence, indent=2)
    for heading, table in _tables(content, unit):
        terminal.say()
        terminal.say(f"{heading}: {table.caption[0].lower()}{table.caption[1:]}", style="bold")
        terminal.table(table.rows, heads=table.header if any(table.header) else ())
    terminal.say()
    terminal.say("What looks odd", style="bold")
    show_findings([Finding(**finding) for finding in content["findings"]], terminal)
    if not content["findings"]:
        terminal.say(NO_REMARKS, indent=2)
    terminal.say()
    terminal.say("What one wear cannot say", style="bold")
    for sentence in content["cannot_say"]:
        terminal.say(sentence, indent=2)


def _tables(content: dict[str, Any], unit: str) -> Iterator[tuple[str, Table]]:
    """Those of the page under their headings; what too few pairs cannot fill is left out."""
    yield "The wear itself", tables.wear(content)
    if not content["n_pairs"]:
        return
    yield "The trade's measures", tables.measures(content, unit)
    caption = "By day, by level, by how fast glucose moved, and by reason"
    yield "When it was nearer, and when farther off", tables.groups(content, unit, tuple(KINDS), caption)
    yield "Lows", tables.lows(content)
    yield "Error grids", tables.zones(content)
    if content["limits"]:
        yield "Limits of agreement", tables.limits(content, unit)
    if content["lines"]:
        yield "Straight lines between the two", tables.lines(content, unit)


def _write(name: Path, content: bytes, terminal: Terminal) -> None:
    write_bytes(name, content)
    terminal.note(f"written: {name}")
