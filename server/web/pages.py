"""What the pages show, drawn from an edition's document and from nothing else."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from server.web.body import VIEWS
from server.web.saying import glucose_text, localised, said

Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Range:
    """In life units: at this fingerstick, four in five readings lay between two values."""

    fingerstick: str
    low: str
    high: str


@dataclass(frozen=True, slots=True)
class Figure:
    """A published number in words ("9.2", "at most 5") and its 95 % interval ("8.6 to 9.9"), each "" where not told."""

    number: str
    interval: str

    @property
    def text(self) -> str:
        """Both in one: "9.2 (8.6 to 9.9)"."""
        return f"{self.number} ({self.interval})" if self.number and self.interval else self.number or self.interval


@dataclass(frozen=True, slots=True)
class SiteLine:
    """One row of a table of sites."""

    site: str
    number: int | None
    label: str
    sensor_model: str | None
    people: str
    people_at_least: int
    licensed: str
    licence_words: str
    ranges: tuple[Range, ...]
    mard_pct: Figure
    bias_pct: Figure
    within_15_15_pct: Figure
    within_20_20_pct: Figure
    people_range_pct: Figure
    on_rated_pct: Figure
    far_per_1000: str
    how_sure: str


@dataclass(frozen=True, slots=True)
class ContrastLine:
    """Two sites set against each other; `ahead` says by how many points of MARD the nearer one is nearer."""

    sentence: str
    sensor_model: str | None
    nearer: str
    farther: str
    is_settled: bool
    ahead: Figure
    chance: str
    people: str
    people_at_least: int
    basis: str


NUMBERS = {patch.site: patch.number for view in VIEWS for patch in view.patches}
LICENCE_WORDS = {
    True: gettext_lazy("in the instructions"),
    False: gettext_lazy("off-label"),
    None: gettext_lazy("off-label for some models"),
}
LICENSED = {
    True: gettext_lazy("yes"),
    False: gettext_lazy("no: off-label"),
    None: gettext_lazy("it depends on the model"),
}
BOUNDS = {"at_most": gettext_lazy("at most %(number)s"), "at_least": gettext_lazy("at least %(number)s")}
TURNED_ROUND = {"at_most": "at_least", "at_least": "at_most"}


def people_text(band: Row | None) -> str:
    """How many people a row is about; one person may stand behind several rows, so the lower end is what is sure."""
    if not band:
        return _("too few people to say")
    return _("at least %(n)s people") % {"n": localised(f"{band['at_least']:,}")}


def number_text(number: float | str) -> str:
    """As published, with a true minus sign, in the reader's way of writing numbers."""
    text = number if isinstance(number, str) else f"{number:g}"
    return localised(text.replace("-", "\N{MINUS SIGN}"))


def from_to(lower: str, upper: str) -> str:
    return _("%(lower)s to %(upper)s") % {"lower": lower, "upper": upper}


def figure(cell: Row | None) -> Figure:
    """A figure of the document in words; nothing at all where the document tells none."""
    if not cell:
        return Figure("", "")
    number = _bounded(cell.get("bound"), number_text(cell["value"])) if "value" in cell else ""
    interval = from_to(number_text(cell["lower"]), number_text(cell["upper"])) if "lower" in cell else ""
    return Figure(number, interval)


def _bounded(bound: str | None, number: str) -> str:
    return str(BOUNDS[bound]) % {"number": number} if bound else number


def _licensed(row: Row) -> str:
    return str(LICENSED[row.get("licensed")])


def place_of(row: Row) -> str:
    """The word for a row's place in an address; a row of a region or of rare sites names no site."""
    return row["site"] or row.get("region") or "other"


def _site_line(row: Row, unit: str) -> SiteLine:
    keys = ("reference_mg_dl", "from_mg_dl", "to_mg_dl")
    return SiteLine(
        site=place_of(row),
        number=NUMBERS.get(place_of(row)),
        label=said(row["label"]),
        sensor_model=row.get("sensor_model"),
        people=people_text(row["people"]),
        people_at_least=row["people"]["at_least"],
        licensed=_licensed(row),
        licence_words=str(LICENCE_WORDS[row.get("licensed")]),
        ranges=tuple(Range(*(glucose_text(show[key], unit) for key in keys)) for show in row["shows"]),
        mard_pct=figure(row["mard_pct"]),
        bias_pct=figure(row.get("bias_pct")),
        within_15_15_pct=figure(row.get("within_15_15_pct")),
        within_20_20_pct=figure(row.get("within_20_20_pct")),
        people_range_pct=figure(row.get("people_range_pct")),
        on_rated_pct=figure(row.get("on_rated_pct")),
        far_per_1000=number_text(row["far_per_1000"]["value"]) if row.get("far_per_1000") else "",
        how_sure=said(row["how_sure"]),
    )


def rows_by_place(document: Row, table: str) -> dict[str, Row]:
    """The rows of a table over all sensor models, by the word of their place."""
    return {place_of(row): row for row in document["tables"].get(table, ()) if row["sensor_model"] is None}


def site_lines(document: Row, table: str, unit: str, *, site: str | None = None) -> tuple[SiteLine, ...]:
    """The rows of a table, all or those of one site, the nearest to the fingerstick first."""
    rows: Iterable[Row] = sorted(document["tables"][table], key=lambda row: (row["mard_pct"]["value"], row["label"]))
    return tuple(_site_line(row, unit) for row in rows if site is None or place_of(row) == site)


def contrast_line(row: Row) -> ContrastLine:
    first_is_nearer = _first_is_nearer(row)
    named = said(row["label_a"]), said(row["label_b"])
    sites = named if first_is_nearer else named[::-1]
    sentence = _difference_in_words(row, *sites)
    return ContrastLine(
        sentence=sentence[0].upper() + sentence[1:],
        sensor_model=row.get("sensor_model"),
        nearer=sites[0],
        farther=sites[1],
        is_settled=not row["difference_points"]["lower"] <= 0 <= row["difference_points"]["upper"],
        ahead=figure(ahead(row, row["difference_points"])),
        chance=f"{sites[0]}: {_chance(row['p_a_better_frac'], of_the_first=first_is_nearer)}",
        people=people_text(row["people"]),
        people_at_least=row["people"]["at_least"],
        basis=said(row["basis"]),
    )


def _first_is_nearer(row: Row) -> bool:
    return bool(row["difference_points"]["value"] <= 0)


def ahead(row: Row, difference: Row) -> Row:
    """A difference of a row's sites, turned so that it counts for the one that is called the nearer."""
    if not _first_is_nearer(row):
        return difference
    # Taken from 0, so that 0 has no sign.
    return {"value": 0 - difference["value"], "lower": 0 - difference["upper"], "upper": 0 - difference["lower"]}


def _difference_in_words(row: Row, nearer: str, farther: str) -> str:
    """One site is called nearer only where the whole interval says so."""
    difference = row["difference_points"]
    model = f" ({row['sensor_model']})" if row.get("sensor_model") else ""
    points = abs(difference["value"])
    told = {"nearer": nearer, "farther": farther, "model": model, "points": number_text(points)}
    if difference["lower"] <= 0 <= difference["upper"]:
        says = _("%(nearer)s and %(farther)s%(model)s: the figures leave open which is nearer to the fingerstick.")
        return says % told
    says = ngettext(
        "%(nearer)s%(model)s: about %(points)s point nearer to the fingerstick than %(farther)s.",
        "%(nearer)s%(model)s: about %(points)s points nearer to the fingerstick than %(farther)s.",
        1 if points == 1 else 2,
    )
    return says % told


def _chance(p_a_better: Row, *, of_the_first: bool) -> str:
    """The chance that the nearer site is the nearer one in truth; a bound turns round with it."""
    percent, bound = 100 * p_a_better["value"], p_a_better.get("bound", "")
    if not of_the_first:
        percent, bound = 100 - percent, TURNED_ROUND.get(bound, "")
    return _bounded(bound, f"{percent:.0f} %")


def contrast_lines(document: Row, *, site: str | None = None) -> tuple[ContrastLine, ...]:
    """Each site against one that the instructions name: over all models, or for one site also model by model."""
    return tuple(
        contrast_line(row)
        for row in document["tables"]["contrasts"]
        if row["primary"]
        and (row.get("sensor_model") is None if site is None else site in (row["site_a"], row["site_b"]))
    )
