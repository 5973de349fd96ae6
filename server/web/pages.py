"""What the pages show, drawn from an edition's document and from nothing else."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from server.core.glucose import glucose_text

Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Range:
    """In life units: at this fingerstick, four in five readings lay between two values."""

    fingerstick: str
    low: str
    high: str


@dataclass(frozen=True, slots=True)
class Figure:
    """A published number with the ends of its 95 % interval."""

    value: str
    lower: str
    upper: str


@dataclass(frozen=True, slots=True)
class SiteLine:
    """One row of a table of sites."""

    site: str
    label: str
    sensor_model: str | None
    people: str
    licensed: bool | None
    ranges: tuple[Range, ...]
    mard_pct: Figure
    bias_pct: Figure | None
    within_15_15_pct: Figure | str | None
    within_20_20_pct: Figure | str | None
    people_range: Mapping[str, Any] | None
    how_sure: str


@dataclass(frozen=True, slots=True)
class ContrastLine:
    """Two sites set against each other."""

    first: str
    second: str
    sensor_model: str | None
    sentence: str
    difference: Figure
    p_a_better: str
    basis: str


def people_text(band: Row | None) -> str:
    """A band of people in words: "30 to 49 people"."""
    if not band:
        return "not enough people"
    low, below = int(band["at_least"]), band.get("below")
    return f"{low:,} to {int(below) - 1:,} people" if below else f"{low:,} people or more"


def _figure(cell: Row | None) -> Figure | None:
    if not cell or "value" not in cell:
        return None
    return Figure(*(f"{cell[key]:g}" if key in cell else "" for key in ("value", "lower", "upper")))


def _rate(cell: Row | None) -> Figure | str | None:
    """A rate, or the bound that stands in its place when too few people are on one side of it."""
    if not cell:
        return None
    for key, words in (("at_most", "at most"), ("at_least", "at least")):
        if key in cell:
            return f"{words} {cell[key]:g}"
    return _figure(cell)


def _site_line(row: Row, unit: str) -> SiteLine:
    shows = row.get("shows", ())
    mard = _figure(row["mard_pct"])
    if mard is None:
        raise ValueError("a published row always carries its expected MARD")
    return SiteLine(
        site=row["site"],
        label=row["label"],
        sensor_model=row.get("sensor_model"),
        people=people_text(row["people"]),
        licensed=row.get("licensed"),
        ranges=tuple(
            Range(*(glucose_text(show[key], unit) for key in ("reference_mg_dl", "from_mg_dl", "to_mg_dl")))
            for show in shows
        ),
        mard_pct=mard,
        bias_pct=_figure(row.get("bias_pct")),
        within_15_15_pct=_rate(row.get("within_15_15_pct")),
        within_20_20_pct=_rate(row.get("within_20_20_pct")),
        people_range=row.get("people_range_pct"),
        how_sure=row["how_sure"],
    )


def site_lines(document: Row, table: str, unit: str, *, site: str | None = None) -> tuple[SiteLine, ...]:
    """The rows of a table, all or those of one site."""
    rows: Iterable[Row] = document["tables"].get(table, ())
    return tuple(_site_line(row, unit) for row in rows if site is None or row["site"] == site)


def _contrast_line(row: Row, labels: Mapping[str, str]) -> ContrastLine:
    first, second = labels.get(row["site_a"], row["site_a"]), labels.get(row["site_b"], row["site_b"])
    difference = _figure(row["difference_points"])
    if difference is None:
        raise ValueError("a published contrast always carries its difference")
    points = abs(float(difference.value))
    nearer, farther = (first, second) if float(difference.value) < 0 else (second, first)
    sentence = (
        f"No difference to speak of between {first} and {second}."
        if points == 0
        else (f"Readings on the {nearer} sat about {points:g} points nearer to the fingerstick than on the {farther}.")
    )
    return ContrastLine(
        first=first,
        second=second,
        sensor_model=row.get("sensor_model"),
        sentence=sentence,
        difference=difference,
        p_a_better=f"{100 * row['p_a_better_frac']:.0f}",
        basis=row["basis"],
    )


def contrast_lines(document: Row, *, site: str | None = None, primary: bool = False) -> tuple[ContrastLine, ...]:
    """Contrasts of the sites table, all or those that concern one site."""
    labels = {row["site"]: row["label"] for row in document["tables"].get("sites", ())}
    rows = (
        row
        for row in document["tables"].get("contrasts", ())
        if (site is None or site in (row["site_a"], row["site_b"])) and (not primary or row.get("primary", True))
    )
    return tuple(_contrast_line(row, labels) for row in rows)
