"""Charts and tables of a published edition as files. Each is drawn from the document and from nothing else."""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING

import vl_convert

from pooling.charts import CHARTS, NO_ROWS, forest_plot
from pooling.edition import BASIS_TIED, HOW_SURE_RULE, TABLES, table_csv
from pooling.edition.dictionary import TITLES, column_schema
from pooling.edition.package import package_bytes
from pooling.errors import InvalidInput
from pooling.marks import finding
from pooling.studies import NOT_STUDIED, STUDIES
from pooling.tongue import ENGLISH, Tongue
from server.core.errors import NotFound
from server.editions.selectors import EditionView

if TYPE_CHECKING:
    from vl_convert import FormatLocaleName

__all__ = [
    "BASIS_TIED",
    "CHARTS",
    "CHART_FORMATS",
    "HOW_SURE_RULE",
    "NOT_STUDIED",
    "STUDIES",
    "TABLES",
    "TITLES",
    "File",
    "chart_file",
    "chart_words",
    "column_meaning",
    "document_file",
    "drawn",
    "table_file",
]

PNG_SCALE = 2.0
CHART_WIDTH_PX = 640
NARROW_CHART_WIDTH_PX = 340
NO_SUCH_TABLE = f"There is no such table. There are {', '.join(TABLES)}."
NO_SUCH_CHART = f"There is no such chart. There are {', '.join(CHARTS)}."


@dataclass(frozen=True, slots=True)
class File:
    """Bytes to hand out, and what they are."""

    content: bytes
    media_type: str


def _svg(spec: str, numbers: "FormatLocaleName") -> bytes:
    return vl_convert.vegalite_to_svg(spec, format_locale=numbers).encode()


def _png(spec: str, numbers: "FormatLocaleName") -> bytes:
    return vl_convert.vegalite_to_png(spec, format_locale=numbers, scale=PNG_SCALE)


def _json(spec: str, _numbers: "FormatLocaleName") -> bytes:
    return spec.encode()


_DRAWN: Mapping[str, tuple[Callable[[str, "FormatLocaleName"], bytes], str]] = MappingProxyType(
    {
        "svg": (_svg, "image/svg+xml"),
        "png": (_png, "image/png"),
        "json": (_json, "application/json"),
    }
)
CHART_FORMATS = tuple(_DRAWN)


def document_file(view: EditionView) -> File:
    """The stored bytes themselves."""
    return File(view.content, "application/json")


def table_file(view: EditionView, table: str) -> File:
    if table not in TABLES:
        raise NotFound(NO_SUCH_TABLE)
    return File(table_csv(dict(view.document), table).encode(), "text/csv; charset=utf-8")


def chart_file(
    view: EditionView, chart: str, file_format: str, *, width: int = CHART_WIDTH_PX, tongue: Tongue = ENGLISH
) -> File:
    """A chart as SVG, PNG, or the Vega-Lite specification that both are drawn from."""
    _require_chart(chart)
    if file_format not in _DRAWN:
        raise NotFound(f"Charts come as {', '.join(CHART_FORMATS)}.")
    spec = json.dumps(forest_plot(dict(view.document), chart, width=width, say=tongue.say), sort_keys=True)
    return File(_draw(spec, file_format, tongue.numbers), _DRAWN[file_format][1])


def package_file(view: EditionView) -> File:
    """The archive with the document and all that follows from it."""
    if view.certificate is None:
        raise NotFound("This edition was published without a certificate of the auditor, so it has no package.")
    signature = None if view.signature is None else json.dumps(view.signature)
    return File(_packed(view.content, view.certificate, signature), "application/zip")


@lru_cache(maxsize=4)
def _packed(content: bytes, certificate: bytes, signature: str | None) -> bytes:
    return package_bytes(content, certificate, None if signature is None else json.loads(signature))


def chart_words(view: EditionView, chart: str) -> str:
    """What a chart shows, in a sentence, for those who do not see it."""
    _require_chart(chart)
    return finding(dict(view.document), chart)


def drawn(view: EditionView) -> dict[str, str]:
    """The charts of an edition in which there is something to see, each with its words."""
    words = {chart: chart_words(view, chart) for chart in CHARTS}
    return {chart: says for chart, says in words.items() if says != NO_ROWS}


def column_meaning(column: str) -> str:
    """What a column of a table means, in a sentence; nothing where nobody has said it yet."""
    try:
        return str(column_schema(column)["description"])
    except InvalidInput:
        return ""


@lru_cache(maxsize=64)
def _draw(spec: str, file_format: str, numbers: "FormatLocaleName") -> bytes:
    return _DRAWN[file_format][0](spec, numbers)


def _require_chart(chart: str) -> None:
    if chart not in CHARTS:
        raise NotFound(NO_SUCH_CHART)
