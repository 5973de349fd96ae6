"""What a moderator looks at before publishing: what is withheld, and what became different since the last edition.

Both are read from documents in their published form, so a preview tells nothing that an edition does not.
"""

from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any

from pooling import protection
from pooling.edition.document import TABLES, place_of, table_rows
from pooling.protection import FULL_ROW_PEOPLE, Band, Scale
from pooling.vocabulary import SITES, label

WITHHELD_IN_WORDS = (
    "A row is shown where as many people stand behind it as the rules ask, and only then. Whether anybody wore "
    "a sensor at a site without a row, and how many, is told to nobody.",
    f"A row of fewer than {FULL_ROW_PEOPLE} people shows fewer figures, and rounder ones.",
    "Shares with few people on one side are told as a bound, for few and none alike.",
)
_SCALES: Mapping[str, Scale] = {
    "mard_pct": protection.MARD_PCT,
    "bias_pct": protection.BIAS_PCT,
    "within_15_15_pct": protection.SHARE_PCT,
    "within_20_20_pct": protection.SHARE_PCT,
    "on_rated_pct": protection.SHARE_PCT,
    "reaction_pct": protection.SHARE_PCT,
    "mean_points": protection.RATING_POINTS,
    "difference_points": protection.DIFFERENCE_POINTS,
    "overall_points": protection.DIFFERENCE_POINTS,
    "against_all_points": protection.DIFFERENCE_POINTS,
    "lows_missed_pct": protection.SHARE_PCT,
    "false_lows_pct": protection.SHARE_PCT,
}
Row = dict[str, Any]
_WITHIN = ("rating", "phase", "range", "prompt")
_KEYS = ("site", "region", "site_a", "site_b", "sensor_model", *_WITHIN)


def withheld_in(document: dict[str, Any]) -> dict[str, Any]:
    """What the document does not show, in general terms: sites without a row, and rows with fewer figures."""
    rows = table_rows(document, "sites")
    shown = {place_of(row) for row in rows}
    return {
        "says": list(WITHHELD_IN_WORDS),
        "sites_without_row": [label(site) for site in SITES if site not in shown],
        "rows_with_fewer_figures": [row["label"] for row in rows if row["people"]["at_least"] < FULL_ROW_PEOPLE],
    }


def changes_since(previous: dict[str, Any] | None, document: dict[str, Any]) -> dict[str, Any] | None:
    """How a document differs from the edition before it; None where there is none.

    Parameters
    ----------
    previous
        The document of the last edition that stands.
    document
        What would be published.

    Returns
    -------
    dict or None
        `came` and `went`, rows by table; `people`, rows that moved to another band; `figures`, those that changed by
        more than the larger of the two rows' rounding steps, with that step.
    """
    if previous is None:
        return None
    came: list[Row] = []
    went: list[Row] = []
    people: list[Row] = []
    figures: list[Row] = []
    for table in TABLES:
        before, now = _by_key(previous, table), _by_key(document, table)
        came += [_named(table, now[key]) for key in now if key not in before]
        went += [_named(table, before[key]) for key in before if key not in now]
        for key in now.keys() & before.keys():
            pair = before[key], now[key]
            if pair[0]["people"] != pair[1]["people"]:
                people.append(_named(table, pair[1]) | {"was": pair[0]["people"], "is": pair[1]["people"]})
            figures += _moved(table, *pair)
    return {
        "since": {"number": previous["number"], "cut_off": previous["cut_off"]},
        "came": came,
        "went": went,
        "people": sorted(people, key=_order),
        "figures": sorted(figures, key=_order),
    }


def _by_key(document: dict[str, Any], table: str) -> dict[tuple[Any, ...], Row]:
    return {_key(row): row for row in table_rows(document, table)}


def _key(row: Row) -> tuple[Any, ...]:
    return tuple(row.get(name) for name in _KEYS)


def _named(table: str, row: Row) -> Row:
    name = row["label"] if "label" in row else f"{row['label_a']} against {row['label_b']}"
    within = {key: row[key] for key in _WITHIN if key in row}
    return {"table": table, "row": name, "sensor_model": row["sensor_model"], **within}


def _order(change: Row) -> tuple[str, ...]:
    return tuple(str(change.get(name)) for name in ("table", "row", "sensor_model", *_WITHIN, "figure"))


def _moved(table: str, before: Row, now: Row) -> Iterator[Row]:
    for figure, scale in _SCALES.items():
        was, is_now = before.get(figure), now.get(figure)
        if not was or not is_now or "value" not in was or "value" not in is_now:
            continue
        step = max(_step(scale, before), _step(scale, now))
        if was.get("bound") != is_now.get("bound") or abs(_decimal(is_now) - _decimal(was)) > step:
            yield _named(table, now) | {"figure": figure, "was": was, "is": is_now, "step": float(step)}


def _step(scale: Scale, row: Row) -> Decimal:
    return protection.step_of(scale, Band(row["people"]["at_least"], row["people"]["below"]))


def _decimal(figure: Row) -> Decimal:
    return Decimal(str(figure["value"]))
