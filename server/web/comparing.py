"""Two to four sites side by side: every measure with a column a site, and what is known of each pair."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from django.utils.translation import gettext as _

from server.web import pages, wearing, within
from server.web.pages import SiteLine, number_text

Row = Mapping[str, Any]

FEWEST_SITES, MOST_SITES = 2, 4
SAID_AT_MG_DL = (70, 100, 200)


@dataclass(frozen=True, slots=True)
class Measure:
    """One line of the comparison: what is measured, and each site's answer under its name."""

    name: str
    cells: tuple[tuple[str, str], ...]
    n_told: int

    @property
    def compares(self) -> bool:
        """Whether it sets one site against another: what is told of one alone does not."""
        return self.n_told >= FEWEST_SITES


@dataclass(frozen=True, slots=True)
class Pair:
    """What the edition says of two sites; "parted" where two ways of looking at them do not agree."""

    line: pages.ContrastLine
    overall: str
    parted: str


def sites_asked(asked: Sequence[str], document: Row) -> list[str]:
    """Of the sites that somebody asked for, those with a row, each once and at most four."""
    rows = pages.rows_by_place(document, "sites")
    return [site for site in dict.fromkeys(asked) if site in rows][:MOST_SITES]


def measures(document: Row, sites: Sequence[str], unit: str) -> tuple[Measure, ...]:
    """Life units first, then accuracy, time on the skin, the skin, ratings, and how sure it all is."""
    lines = [line for site in sites for line in pages.site_lines(document, "sites", unit, site=site)]
    labels = [line.label for line in lines]
    rows = [*_shown(lines, unit), *_saying(document, sites, unit), *_nearness(lines), *_within(document, sites)]
    rows += [*_wearing(document, sites), *_standing(lines)]
    return tuple(
        Measure(name, tuple(zip(labels, (text or _("not told") for text in texts), strict=True)), sum(map(bool, texts)))
        for name, texts in rows
        if any(texts)
    )


def _shown(lines: Sequence[SiteLine], unit: str) -> Iterator[tuple[str, list[str]]]:
    for i, shown in enumerate(lines[0].ranges):
        name = _("At a fingerstick of %(glucose)s %(unit)s, mostly showed") % {
            "glucose": shown.fingerstick,
            "unit": unit,
        }
        yield name, [f"{line.ranges[i].low} {_('to')} {line.ranges[i].high}" for line in lines]


def _saying(document: Row, sites: Sequence[str], unit: str) -> Iterator[tuple[str, list[str]]]:
    says = [next(iter(within.says_lines(document, unit, site=site, at_mg_dl=SAID_AT_MG_DL)), None) for site in sites]
    for i, shown in enumerate(next((line.ranges for line in says if line), ())):
        name = _("When the sensor says %(glucose)s %(unit)s, the fingerstick mostly is") % {
            "glucose": shown.fingerstick,
            "unit": unit,
        }
        yield name, [f"{line.ranges[i].low} {_('to')} {line.ranges[i].high}" if line else "" for line in says]
    lows = [next(iter(within.low_lines(document, site=site)), None) for site in sites]
    yield _("Lows missed, of 100 low fingersticks"), [line.missed.text if line else "" for line in lows]
    yield _("False lows, of 100 lows on the sensor"), [line.false.text if line else "" for line in lows]


def _within(document: Row, sites: Sequence[str]) -> Iterator[tuple[str, list[str]]]:
    names = {
        ("phases", within.ALL_DAYS_ALIKE): _("MARD with each day worn counting alike (%)"),
        ("phases", "day1"): _("MARD on day 1 (%)"),
        ("prompts", "scheduled"): _("MARD of readings at set times alone (%)"),
        ("ranges", "reference_low"): _("MARD at low fingersticks (%)"),
    }
    for (table, part), name in names.items():
        yield name, [within.part_figure(document, table, part, site).text for site in sites]


def _nearness(lines: Sequence[SiteLine]) -> Iterator[tuple[str, list[str]]]:
    yield _("Expected difference (MARD, %)"), [line.mard_pct.text for line in lines]
    yield _("MARD of four people in five, each for themselves (%)"), [line.people_range_pct.text for line in lines]
    yield _("Reads high (above 0) or low (below 0) (%)"), [line.bias_pct.text for line in lines]
    yield _("Within 15 mg/dL or 15 % (%)"), [line.within_15_15_pct.text for line in lines]
    yield _("Within 20 mg/dL or 20 % (%)"), [line.within_20_20_pct.text for line in lines]
    far = [_("at most %(number)s") % {"number": line.far_per_1000} if line.far_per_1000 else "" for line in lines]
    yield _("So far off that acting on it could do harm (of 1,000)"), far


def _wearing(document: Row, sites: Sequence[str]) -> Iterator[tuple[str, list[str]]]:
    stays = [next(iter(wearing.stay_lines(document, site=site)), None) for site in sites]
    for i, day in enumerate(wearing.DAYS):
        still_on = _("Still on at day %(day)s (of 100)") % {"day": day}
        yield still_on, [stay.days[i].figure.text if stay else "" for stay in stays]
    yield _("Still on at the end of its rated life (of 100)"), [stay.rated.text if stay else "" for stay in stays]
    skin = [next(iter(wearing.skin_lines(document, site=site)), None) for site in sites]
    yield _("Redness or itch for hours, or worse (of 100 people)"), [one.figure.text if one else "" for one in skin]
    rated = [{one.name: one.figure.text for one in wearing.rating_lines(document, site=site)} for site in sites]
    for name in map(str, wearing.RATINGS.values()):
        yield _("%(what)s (0 to 10)") % {"what": name}, [one.get(name, "") for one in rated]


def _standing(lines: Sequence[SiteLine]) -> Iterator[tuple[str, list[str]]]:
    yield _("Named in the instructions"), [line.licensed for line in lines]
    yield _("People"), [line.people for line in lines]
    yield _("How sure"), [line.how_sure for line in lines]


def pairs(document: Row, sites: Sequence[str]) -> tuple[Pair, ...]:
    """The differences that the edition tells among these sites, over all sensor models."""
    wanted = {frozenset(pair) for pair in combinations(sites, 2)}
    return tuple(
        _pair(row)
        for row in document["tables"]["contrasts"]
        if row["sensor_model"] is None and frozenset((row["site_a"], row["site_b"])) in wanted
    )


def _pair(row: Row) -> Pair:
    """Beside the difference within people, what all wearers' means say too; told apart where the two part."""
    overall = row["overall_points"]
    parted = _(
        "The two ways part. Who chose which site may stand behind it: believe the difference among people who wore "
        "both rather than the other."
    )
    return Pair(
        pages.contrast_line(row),
        number_text(pages.ahead(row, overall)["value"]) if overall else "",
        parted if row["fits_part"] else "",
    )
