"""An own report as one HTML file that needs nothing else: no script, no other file, no request."""

import html
from collections.abc import Iterable
from typing import Any

from pooling.caution import CAUTION_SHORT, CAUTION_TEXT
from pooling.cli.figures import Rows, figure_rows
from pooling.report import in_words

_STYLE = """
body { max-width: 44rem; margin: 2rem auto; padding: 0 1rem; font: 1rem/1.5 sans-serif; color: #1c1c1c; }
table { border-collapse: collapse; } th, td { text-align: left; padding: 0.2rem 1rem 0.2rem 0; vertical-align: top; }
th { font-weight: normal; color: #5a5a5a; } aside { border: 1px solid #5a5a5a; padding: 0 1rem; margin: 1rem 0; }
svg { max-width: 100%; height: auto; }
"""


def report_page(report: dict[str, Any], unit: str, drawing: str) -> str:
    """The page; `drawing` is an SVG of the pairs, or empty where there is none."""
    title = f"What one wear on the {report['site_label']} says"
    parts = [
        f"<h1>{html.escape(title)}</h1>",
        f"<aside><p><strong>Caution.</strong> {html.escape(CAUTION_SHORT)}</p></aside>",
        *_paragraphs(in_words(report, unit)),
        drawing,
        _table("Figures", figure_rows(report, unit)),
        _section("What looks odd", [" ".join((f["seen"], f["why"], f["do"])) for f in report["findings"]]),
        _section("What one wear cannot say", report["cannot_say"]),
        _section("Caution", CAUTION_TEXT.split("\n")),
    ]
    head = (
        f'<meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>{html.escape(title)}</title>'
    )
    body = "\n".join(filter(None, parts))
    return (
        f'<!doctype html>\n<html lang="en"><head>{head}<style>{_STYLE}</style></head>\n<body>\n{body}\n</body></html>\n'
    )


def _paragraphs(sentences: Iterable[str]) -> list[str]:
    return [f"<p>{html.escape(sentence)}</p>" for sentence in sentences]


def _section(title: str, sentences: list[str]) -> str:
    return "\n".join([f"<h2>{html.escape(title)}</h2>", *_paragraphs(sentences)]) if sentences else ""


def _table(title: str, rows: Rows) -> str:
    lines = "\n".join(
        f'<tr><th scope="row">{html.escape(name)}</th><td>{html.escape(text)}</td></tr>' for name, text in rows
    )
    return f"<h2>{html.escape(title)}</h2>\n<table>\n{lines}\n</table>"
