"""What pages tell of parts of a wear: day by day, by range, by why the finger was pricked, and when the sensor says."""

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any, Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from server.web.pages import Figure, Range, figure, number_text, people_text, place_of
from server.web.saying import glucose_text, said

Row = Mapping[str, Any]

ALL_DAYS_ALIKE: Final = "all_days_alike"
METER_ALONE_PCT: Final = 6.1
"""MARD that a meter makes of a perfect sensor if 95 of 100 of its values lie within 15 %, as ISO 15197:2013 asks."""
COLUMNS: Final = {"phases": "phase", "ranges": "range", "prompts": "prompt"}
_PARTS: Final = {
    "day1": gettext_lazy("day 1"),
    "days2_7": gettext_lazy("days 2 to 7"),
    "day8_on": gettext_lazy("day 8 and later"),
    ALL_DAYS_ALIKE: gettext_lazy("each day worn counting alike"),
    "scheduled": gettext_lazy("at set times"),
    "doubt": gettext_lazy("in doubt of the sensor"),
}
_TITLES: Final = {
    "phases": gettext_lazy("Day by day of wear"),
    "ranges": gettext_lazy("At low, middle and high glucose"),
    "prompts": gettext_lazy("Why the finger was pricked"),
}


@dataclass(frozen=True, slots=True)
class PartLine:
    """One part of the readings, in figures; against_all says how it differs from all readings of the row."""

    part: str
    name: str
    people_at_least: int
    mard_pct: Figure
    against_all: Figure
    within_15_15_pct: Figure
    share: str


@dataclass(frozen=True, slots=True)
class PartTable:
    """The parts of one kind at one place, or at all sites together."""

    name: str
    title: str
    lines: tuple[PartLine, ...]


@dataclass(frozen=True, slots=True)
class LowLine:
    """Lows missed and false lows of a place."""

    site: str | None
    label: str
    people: str
    people_at_least: int
    missed: Figure
    false: Figure


@dataclass(frozen=True, slots=True)
class LotLine:
    """How far wears by lot lie from chosen ones at a place, or at all sites together."""

    label: str
    people_at_least: int
    less_chosen: Figure


@dataclass(frozen=True, slots=True)
class SaysLine:
    """What the fingerstick mostly was at displayed values; in `Range` the displayed value stands as `fingerstick`."""

    site: str
    label: str
    people_at_least: int
    ranges: tuple[Range, ...]


def part_tables(document: Row, unit: str, *, site: str | None) -> tuple[PartTable, ...]:
    """Tables of one site, or of all sites together (None); those without a row are left out."""
    found = (
        PartTable(name, str(_TITLES[name]), tuple(_part_line(row, name, unit) for row in _rows(document, name, site)))
        for name in COLUMNS
    )
    return tuple(table for table in found if table.lines)


def part_figure(document: Row, table: str, part: str, site: str) -> Figure:
    """The MARD of one part at a site."""
    rows = [row for row in _rows(document, table, site) if row[COLUMNS[table]] == part]
    return figure(rows[0]["mard_pct"]) if rows else Figure("", "")


def low_lines(document: Row, *, site: str | None = None) -> tuple[LowLine, ...]:
    """All rows, all sites together first; or those of one site."""
    return tuple(
        LowLine(
            row["site"] or row["region"],
            said(row["label"]),
            people_text(row["people"]),
            row["people"]["at_least"],
            figure(row["lows_missed_pct"]),
            figure(row["false_lows_pct"]),
        )
        for row in document["tables"].get("lows", ())
        if site is None or _whose(row) == site
    )


def lot_lines(document: Row) -> tuple[LotLine, ...]:
    """All rows, all sites together first."""
    return tuple(
        LotLine(said(row["label"]), row["people"]["at_least"], figure(row["lot_less_chosen_points"]))
        for row in document["tables"].get("lots", ())
    )


def says_lines(
    document: Row, unit: str, *, site: str | None = None, at_mg_dl: Collection[int] = ()
) -> tuple[SaysLine, ...]:
    """All sites that tell it, or one; at all values, or at some."""
    keys = ("sensor_mg_dl", "from_mg_dl", "to_mg_dl")
    return tuple(
        SaysLine(
            place_of(row),
            said(row["label"]),
            row["people"]["at_least"],
            tuple(
                Range(*(glucose_text(one[key], unit) for key in keys))
                for one in row["says"]
                if not at_mg_dl or one["sensor_mg_dl"] in at_mg_dl
            ),
        )
        for row in document["tables"].get("when_the_sensor_says", ())
        if site is None or _whose(row) == site
    )


def asides(document: Row, site: str) -> tuple[str, ...]:
    """What the site's figure would be counted otherwise: day by day, at set times, by lot, without the meter."""
    mard = next((row["mard_pct"] for row in _rows(document, "sites", site)), None)
    if mard is None:
        return ()
    days, scheduled = (
        part_figure(document, table, part, site)
        for table, part in (("phases", ALL_DAYS_ALIKE), ("prompts", "scheduled"))
    )
    told = {"mard": number_text(mard["value"])}
    sentences = []
    if days.text:
        sentences.append(
            _("Each reading counting alike, the difference is %(mard)s %%; each day worn counting alike, %(days)s %%.")
            % (told | {"days": days.text})
        )
    if scheduled.text:
        sentences.append(
            _(
                "People also prick a finger when they doubt the sensor. On readings at set times alone, the "
                "difference would be %(scheduled)s %%."
            )
            % {"scheduled": scheduled.text}
        )
    for row in _rows(document, "lots", site):
        sentences.append(
            _(
                "People may choose sites that suit them. Where a lot had drawn this site, in fair tests and joint "
                "rounds, MARD was %(points)s points above that of wears whose site was chosen, mostly by other people "
                "(below it where negative; %(people)s people or more, both together)."
            )
            % {"points": figure(row["lot_less_chosen_points"]).text, "people": row["people"]["at_least"]}
        )
    sentences.append(
        _(
            "Part of it is the meter's: one that only just keeps to the standard (ISO 15197:2013) would show about "
            "%(meter)s %% beside a perfect sensor, which would leave %(rest)s of these %(mard)s %% to the sensor. What "
            "meters people had is not known."
        )
        % (told | {"meter": number_text(METER_ALONE_PCT), "rest": _without_meter(mard["value"])})
    )
    return tuple(sentences)


def _without_meter(mard_pct: float) -> str:
    """Squares of independent errors add up; the meter may explain everything."""
    return number_text(round(math.sqrt(max(0.0, mard_pct**2 - METER_ALONE_PCT**2)), 1))


def _part_line(row: Row, table: str, unit: str) -> PartLine:
    part = row[COLUMNS[table]]
    share = row.get("share_pct")
    return PartLine(
        part=part,
        name=part_name(part, unit),
        people_at_least=row["people"]["at_least"],
        mard_pct=figure(row["mard_pct"]),
        against_all=figure(row["against_all_points"]),
        within_15_15_pct=figure(row["within_15_15_pct"]),
        share=figure(share).text,
    )


def part_name(part: str, unit: str) -> str:
    """A part in words; limits of glucose in the reader's unit."""
    at = {"low": glucose_text(70, unit), "high": glucose_text(180, unit), "unit": unit}
    ranges = {
        "reference_low": _("fingerstick below %(low)s %(unit)s") % at,
        "reference_mid": _("fingerstick %(low)s to %(high)s %(unit)s") % at,
        "reference_high": _("fingerstick above %(high)s %(unit)s") % at,
    }
    return ranges.get(part) or str(_PARTS[part])


def _rows(document: Row, table: str, site: str | None) -> list[Row]:
    return [row for row in document["tables"].get(table, ()) if row["sensor_model"] is None and _whose(row) == site]


def _whose(row: Row) -> str | None:
    """The word of a row's place; None where it is all sites together."""
    return row["site"] or row["region"]
