"""The rows of an edition's tables, as published figures and fixed words, for cells that hold enough people."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from scipy import special

from pooling import protection
from pooling.edition.inputs import CellFit, Contrast, EditionContext
from pooling.errors import InvalidInput, TooFewPeople
from pooling.protection import FULL_ROW_PEOPLE, Band, Estimate, Published, Scale, Withheld, band_people
from pooling.vocabulary import REGIONS, SITES, label, region_of

Row = dict[str, object]
Cell = tuple[str, str | None]

OTHER_PLACE = "other"
SHOWN_REFERENCES_MG_DL = (70, 100, 180)
BASIS_TIED = "from people who wore both"
BASIS_CHOICE = "rests partly on who chose which"

HOW_SURE_RULE = (
    "The words follow the number of people and how far the 95 % interval of the expected difference reaches from its "
    "value, whichever side is longer. Well known: 100 people or more, and at most a tenth of the value. Fairly well "
    "known: 30 or more, at most three twentieths. Roughly known: 10 or more, at most three tenths. Hardly known: "
    "everything else. The words are about statistics; they are no clinical grading."
)
_HOW_SURE = (
    (100, Decimal("0.10"), "well known"),
    (30, Decimal("0.15"), "fairly well known"),
    (10, Decimal("0.30"), "roughly known"),
)
_LEAST_SURE = "hardly known"

# 80 % of a normal distribution lies within this many standard deviations.
_Z_80_PCT = float(special.ndtri(0.9))


@dataclass(frozen=True, slots=True)
class Shows:
    """What the sensor mostly showed, 80 times of 100, when the fingerstick was at a reference value."""

    reference_mg_dl: int
    shown_mg_dl: Published


def place_label(place: str) -> str:
    """Plain English for a site, for a region of wears whose site is not told apart, or for rare sites pooled as one."""
    if place in SITES:
        return label(place)
    if place in REGIONS:
        return f"{label(place)}, site not named"
    return "other sites, not named"


def is_licensed(place: str, sensor_model: str | None, context: EditionContext) -> bool | None:
    """Whether the instructions name the place; None where part of the place or only some sensor models do."""
    models = [sensor_model] if sensor_model else list(context.sensor_models)
    leaves = (place,) if place in SITES else REGIONS.get(place, ())
    answers = {
        leaf in context.sensor_models[model].licensed_sites
        for model in models
        if model in context.sensor_models
        for leaf in leaves
    }
    return answers.pop() if len(answers) == 1 else None


def how_sure(mard_pct: Published, people: Band) -> str:
    """How sure a figure is, in words, by HOW_SURE_RULE; from published numbers alone."""
    value, lower, upper = _parts(mard_pct)
    for at_least, part, words in _HOW_SURE:
        if people.at_least >= at_least and max(value - lower, upper - value) <= part * value:
            return words
    return _LEAST_SURE


def shows(location: float, reading_sd_log: float, *, n_people: int, k: int) -> list[Shows]:
    """The range that holds 80 % of readings at each reference value, rounded outward to whole mg/dL.

    Parameters
    ----------
    location, reading_sd_log
        Centre and standard deviation of the log ratio of one reading of a new wear. Both are rounded for publication
        first and nothing else enters, so the three ranges tell no more than two published numbers.
    n_people, k
        People behind the cell and the threshold; the step is 2 mg/dL below 30 people and 1 from there.

    Notes
    -----
    The range is `reference * exp(location ± z sd)`, with z the 90 % point of the normal distribution.

    Examples
    --------
    >>> at_100 = shows(0.0, 0.12, n_people=40, k=5)[1]
    >>> int(at_100.shown_mg_dl.lower), int(at_100.shown_mg_dl.upper)
    (85, 117)
    """
    press = _Press(n_people, k)
    centre = float(_parts(press.value(location, protection.LOCATION_LOG))[0])
    half = _Z_80_PCT * float(_parts(press.value(reading_sd_log, protection.READING_SD_LOG))[0])
    step = Decimal(1) if n_people >= FULL_ROW_PEOPLE else Decimal(2)
    return [
        Shows(
            reference,
            press.range(
                reference * math.exp(centre - half),
                reference * math.exp(centre + half),
                protection.GLUCOSE_MG_DL,
                step,
            ),
        )
        for reference in SHOWN_REFERENCES_MG_DL
    ]


def site_row(
    cell: CellFit, context: EditionContext, *, on_rated: Published | None = None, far: Published | None = None
) -> Row:
    """One row of the tables of sites, for a cell of at least k people: all figures from 30 on, the bare ones below.

    on_rated, the share of wears still on at the rated life, and far, the bound of readings far off, may rest on other
    people; where one is not told, the row is as where there is none.
    """
    press = _Press(cell.n_people, context.k)
    people = band_people(cell.n_people)
    mard_pct = press.estimate(cell.mard_pct, protection.MARD_PCT)
    return {
        **whereabouts(cell.place, cell.sensor_model),
        "label": place_label(cell.place),
        "licensed": is_licensed(cell.place, cell.sensor_model, context),
        "people": people,
        "mard_pct": mard_pct,
        **(_full_figures(cell, press, far) if cell.n_people >= FULL_ROW_PEOPLE else _bare_figures(cell, press)),
        "on_rated_pct": on_rated,
        "shows": shows(cell.location, cell.reading_sd_log, n_people=cell.n_people, k=context.k),
        "how_sure": how_sure(mard_pct, people),
        "withheld": False,
    }


def model_row(cell: CellFit, context: EditionContext) -> Row:
    """What an own estimate needs of one cell of 30 people or more."""
    press = _Press(cell.n_people, context.k)
    return {
        **whereabouts(cell.place, cell.sensor_model),
        "location": press.value(cell.location, protection.LOCATION_LOG),
        "log_variance": press.value(cell.log_variance, protection.LOG_VARIANCE),
        "reading_sd_log": press.value(cell.reading_sd_log, protection.READING_SD_LOG),
    }


def contrast_rows(contrasts: Iterable[Contrast], shown: Mapping[Cell, CellFit], context: EditionContext) -> list[Row]:
    """Pairs of shown rows of one sensor model (or of none), in the order of their names.

    The primary ones set a site that the instructions do not name against one that they do, always in this order, so
    that a positive difference means more error than at the licensed site. Other pairs stand in alphabetical order, and
    only where both rows hold 30 people: every contrast of a small cell is one more rounding of the same figure, and the
    mean of ten roundings is finer than its step.
    """
    pairs = [
        _oriented(contrast, context)
        for contrast in contrasts
        if contrast.a in shown and contrast.b in shown and contrast.a[1] == contrast.b[1]
    ]
    rows = [
        _contrast_row(pair, (shown[pair.a].n_people, shown[pair.b].n_people), context.k)
        for pair in pairs
        if pair.primary or min(shown[pair.a].n_people, shown[pair.b].n_people) >= FULL_ROW_PEOPLE
    ]
    return sorted(rows, key=lambda row: (str(row["site_a"]), str(row["site_b"]), str(row["sensor_model"] or "")))


@dataclass(frozen=True, slots=True)
class _Press:
    """Publishing for one cell that is known to hold enough people; protection checks that again."""

    n_people: int
    k: int

    def estimate(self, estimate: Estimate, scale: Scale) -> Published:
        return _shown(protection.publish_estimate(estimate, n_people=self.n_people, k=self.k, scale=scale))

    def value(self, number: float, scale: Scale) -> Published:
        return _shown(protection.publish_value(number, n_people=self.n_people, k=self.k, scale=scale))

    def range(self, lower: float, upper: float, scale: Scale, step: Decimal | None = None) -> Published:
        return _shown(protection.publish_range(lower, upper, n_people=self.n_people, k=self.k, scale=scale, step=step))


def _shown(figure: Published | Withheld) -> Published:
    if isinstance(figure, Withheld):
        raise TooFewPeople("a row may be made only of a cell that holds enough people")
    return figure


def _parts(figure: Published) -> tuple[Decimal, Decimal, Decimal]:
    """Value and ends, the value in place of ends that are not told."""
    if figure.value is None:
        raise InvalidInput("this figure has no value of its own")
    lower = figure.value if figure.lower is None else figure.lower
    return figure.value, lower, figure.value if figure.upper is None else figure.upper


def _full_figures(cell: CellFit, press: _Press, far: Published | None) -> Row:
    return {
        "bias_pct": press.estimate(cell.bias_pct, protection.BIAS_PCT),
        "within_15_15_pct": press.estimate(cell.within_15_15_pct, protection.SHARE_PCT),
        "within_20_20_pct": press.estimate(cell.within_20_20_pct, protection.SHARE_PCT),
        "people_range_pct": press.range(*cell.people_range_pct, protection.MARD_PCT),
        "far_per_1000": far,
        "n_wears": protection.publish_count(cell.n_wears),
        "n_pairs": protection.publish_count(cell.n_pairs),
    }


def _bare_figures(cell: CellFit, press: _Press) -> Row:
    """Few people, few figures: how many figures a cell shows matters as much as how many people it holds."""
    return {
        "bias_pct": press.value(cell.bias_pct.median, protection.BIAS_PCT),
        "within_15_15_pct": press.value(cell.within_15_15_pct.median, protection.SHARE_PCT),
    }


def whereabouts(place: str, sensor_model: str | None) -> Row:
    """Site, region and sensor model of a row, each None where the row does not tell it apart."""
    return {"site": place if place in SITES else None, "region": _region(place), "sensor_model": sensor_model}


def _region(place: str) -> str | None:
    if place in SITES:
        return region_of(place)
    if place in REGIONS:
        return place
    if place == OTHER_PLACE:
        return None
    raise InvalidInput("a cell of the fit lies at no place that the vocabulary knows")


class _Turned:
    """A difference read from its other end."""

    def __init__(self, difference: Estimate) -> None:
        self.median, self.lower, self.upper = -difference.median, -difference.upper, -difference.lower


@dataclass(frozen=True, slots=True)
class _Pair:
    """A contrast in the order in which it is printed."""

    a: Cell
    b: Cell
    difference: Estimate
    p_a_better_frac: float
    primary: bool
    tied: bool
    overall: Estimate


def _oriented(contrast: Contrast, context: EditionContext) -> _Pair:
    a, b, p_a_better = contrast.a, contrast.b, contrast.p_a_better_frac
    difference: Estimate = contrast.difference_mard_points
    overall: Estimate = contrast.overall_mard_points
    licensed = {cell: is_licensed(*cell, context) for cell in (a, b)}
    primary = set(licensed.values()) == {True, False}
    if (licensed[a] is True) if primary else (a[0] > b[0]):
        a, b, p_a_better, difference, overall = b, a, 1 - p_a_better, _Turned(difference), _Turned(overall)
    return _Pair(a, b, difference, p_a_better, primary, contrast.tied, overall)


def _contrast_row(pair: _Pair, n_people: tuple[int, int], k: int) -> Row:
    difference = protection.publish_difference(pair.difference, n_people=n_people, k=k)
    both = pair.tied and min(n_people) >= FULL_ROW_PEOPLE
    overall = protection.publish_difference(pair.overall, n_people=n_people, k=k) if both else None
    return {
        "site_a": pair.a[0],
        "site_b": pair.b[0],
        "label_a": place_label(pair.a[0]),
        "label_b": place_label(pair.b[0]),
        "sensor_model": pair.a[1],
        "primary": pair.primary,
        "people": band_people(min(n_people)),
        "difference_points": difference,
        "overall_points": overall,
        "fits_part": _part(_shown(difference), _shown(overall)) if overall else None,
        "p_a_better_frac": protection.publish_probability(pair.p_a_better_frac, n_people=min(n_people), k=k),
        "basis": BASIS_TIED if pair.tied else BASIS_CHOICE,
    }


def _part(within: Published, overall: Published) -> bool:
    """Whether two printed differences lie a standard deviation of the first apart: a quarter of its interval."""
    (value, lower, upper), (other, *_) = _parts(within), _parts(overall)
    return abs(value - other) > (upper - lower) / 4
