"""Everything that is kept of an account's wears, for its owner: as one document, and the readings as a table."""

import csv
from collections.abc import Iterator
from io import StringIO
from typing import Any, Final

import msgspec

from pooling import summary as summaries
from pooling.columns import NO_GAP, NO_RATE, NO_REPLICATE, NO_SENSOR, PairColumns, unpack
from pooling.vocabulary import MARKS, PROMPTS, SOURCES
from server.accounts.models import Account, Holding
from server.core.chunks import chunks
from server.core.selectors import caution
from server.wears.models import Wear

COLUMNS: Final = (
    "elapsed_min",
    "reference",
    "sensor",
    "sensor_mark",
    "prompt",
    "source",
    "rate_mg_dl_min",
    "gap_min",
    "replicate",
)


def wears_held(account: Account) -> list[dict[str, Any]]:
    """Each wear with its record, its readings as long as they are kept, and what was worked out from them."""
    wearers = dict(Holding.objects.filter(account=account).values_list("wear_id", "wearer_id"))
    wears = Wear.objects.select_related("group", "pairs", "summary").prefetch_related("awaited")
    return [
        _wear(wear) | {"wearer": wearers[wear.pk]}
        for chunk in chunks(wearers)
        for wear in wears.filter(pk__in=chunk).order_by("pk")
    ]


def _wear(wear: Wear) -> dict[str, Any]:
    kept = getattr(wear, "pairs", None)
    columns = None if kept is None else unpack(bytes(kept.block))
    return {
        "id": wear.pk,
        "state": wear.shown_state,
        "group": None if wear.group is None else wear.group.slug,
        "uploaded_month": wear.uploaded_month,
        "record": wear.header | {"pairs": None if columns is None else list(pairs_of(columns))},
        "readings_erased_on": None if kept is None else kept.erase_on,
        "findings": wear.findings,
        "appealed": wear.appealed,
        "summary": msgspec.to_builtins(summaries.from_bytes(bytes(wear.summary.payload))),
        "n_pairs": wear.summary.n_pairs,
        "summarised_under": {
            "group_rules": wear.summary.protocol_version,
            "everyone_rules": wear.summary.everyone_version,
        },
        "waits": [{"for": row.family, "since_cut_off": row.since_slot} for row in wear.awaited.all()],
        "sums_end_at_cut_off": {"first": wear.first_end_bucket, "last": wear.end_bucket},
    }


def pairs_of(columns: PairColumns) -> Iterator[dict[str, Any]]:
    """The pairs as a record has them; minutes as they are kept, rounded down to five."""
    for number in range(columns.n_pairs):
        yield {
            "elapsed_min": int(columns.elapsed_min[number]),
            "reference": int(columns.reference_hundredths[number]) / 100,
            "sensor": _hundredths(columns.sensor_hundredths[number], NO_SENSOR),
            "sensor_mark": (None, *MARKS)[columns.mark[number]],
            "prompt": PROMPTS[columns.prompt[number]],
            "source": SOURCES[columns.source[number]],
            "rate_mg_dl_min": _hundredths(columns.rate_hundredths[number], NO_RATE),
            "gap_min": None if columns.gap_min[number] == NO_GAP else int(columns.gap_min[number]),
            "replicate": _hundredths(columns.replicate_hundredths[number], NO_REPLICATE),
        }


def _hundredths(value: Any, absent: int) -> float | None:
    return None if value == absent else int(value) / 100


def readings_csv(account: Account) -> str:
    """Every reading that is kept, one pair a line, with the caution on each (RFC 4180)."""
    text = StringIO()
    words = " ".join(str(caution()["text"]).split())
    lines = csv.writer(text)
    lines.writerow(["wear", *COLUMNS, "glucose_unit", "caution"])
    for wear in wears_held(account):
        for pair in wear["record"]["pairs"] or ():
            lines.writerow([wear["id"], *(pair[name] for name in COLUMNS), wear["record"]["glucose_unit"], words])
    return text.getvalue()
