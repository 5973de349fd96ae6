"""The own report as a file: a page that needs nothing else, or one picture."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any
from uuid import UUID

from pooling.columns import PairColumns
from pooling.report import in_words, report_html, report_png
from pooling.report.tables import measures
from pooling.tongue import ENGLISH, Tongue
from server.accounts.models import Account
from server.core.errors import NotFound
from server.wears import selectors

Draw = Callable[[dict[str, Any], PairColumns, str, Tongue], bytes]


@dataclass(frozen=True, slots=True)
class ReportFile:
    """Bytes to hand out, what they are, and a name that tells nobody whose they are."""

    content: bytes
    media_type: str
    name: str


def _page(report: dict[str, Any], columns: PairColumns, unit: str, tongue: Tongue) -> bytes:
    return report_html(report, columns, unit, tongue).encode()


_DRAWN: Mapping[str, tuple[Draw, str]] = MappingProxyType(
    {"html": (_page, "text/html; charset=utf-8"), "png": (report_png, "image/png")}
)
REPORT_FORMATS = tuple(_DRAWN)


def worded(report: dict[str, Any], unit: str) -> dict[str, Any]:
    """A report with its sentences and its table of measures, for a page."""
    return report | {
        "sentences": in_words(report, unit),
        "measures": measures(report, unit) if report["n_pairs"] else None,
    }


def report_for_page(wear_id: UUID, *, account: Account, unit: str) -> dict[str, Any] | None:
    """The report of an own wear as pages show it; None once its readings have been erased."""
    wear = selectors.wear_for_owner(wear_id, account=account)
    columns = selectors.columns_of(wear)
    if columns is None:
        return None
    return worded(selectors.report_of(wear, columns, account=account, unit=unit), unit)


def report_file(
    wear_id: UUID, *, account: Account, file_format: str, unit: str | None = None, tongue: Tongue = ENGLISH
) -> ReportFile:
    """The report of an own wear in the reader's unit, the record's own by default."""
    wear, columns = selectors.wear_with_readings(wear_id, account=account)
    if file_format not in _DRAWN:
        raise NotFound(f"Reports come as {', '.join(REPORT_FORMATS)}.")
    unit = unit or wear.header["glucose_unit"]
    report = selectors.report_of(wear, columns, account=account, unit=unit)
    draw, media_type = _DRAWN[file_format]
    return ReportFile(draw(report, columns, unit, tongue), media_type, f"wear-report.{file_format}")
