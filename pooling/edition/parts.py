"""Rows of what parts say: by phase, range and prompt, lows missed and false lows, and what stood behind a reading."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from pooling import protection
from pooling.edition.inputs import CellFit, EditionContext
from pooling.edition.rows import Row, place_label, whereabouts
from pooling.errors import InvalidInput
from pooling.parts import SHOWN_MG_DL, LotRow, PartRow, Parts, References, fingerstick_range
from pooling.protection import FULL_ROW_PEOPLE, Estimate, Published, Scale, Withheld, band_people
from pooling.vocabulary import REGIONS, SITES

ALL_SITES = "all sites together"
WIDEST_PCT = 60
"""A share whose interval is wider than this says nothing and is not told."""
WIDEST_POINTS = 10.0
"""And so is a difference in MARD, but for places whose MARD is more than that."""
LOW_RANGE, HIGH_RANGE = "reference_low", "reference_high"
Told = Published | None


@dataclass(frozen=True, slots=True)
class Says:
    """What the fingerstick mostly was, 80 times of 100, when the sensor showed a value."""

    sensor_mg_dl: int
    fingerstick_mg_dl: Published


def part_rows(rows: Iterable[PartRow], name: str, context: EditionContext) -> list[Row]:
    """Rows of one partition, whose part stands under ``name``, for 30 people and more.

    A row is left out where the interval of its difference is wider than twice the larger of 5 points and half of the
    MARD it belongs to: it could be anything.
    """
    return _in_order([_part_row(row, name, context) for row in rows if _may_stand(row.place, row.n_people, row)], name)


def low_rows(parts: Parts, context: EditionContext) -> list[Row]:
    """Lows missed and false lows, each a share with a bound where it speaks of few."""
    found = []
    for low in parts.lows:
        if not _may_stand(low.place, low.n_people, None):
            continue
        missed, false = (_share(share, low.n_people, context) for share in (low.missed_pct, low.false_pct))
        if missed or false:
            found.append(_head(low.place, low.n_people) | {"lows_missed_pct": missed, "false_lows_pct": false})
    return _in_order(found)


def lot_rows(rows: Iterable[LotRow], context: EditionContext) -> list[Row]:
    """Wears by lot less chosen ones, for 30 people and more; left out where it could be anything."""
    return _in_order(
        [
            _head(row.place, row.n_people)
            | {
                "lot_less_chosen_points": _told(
                    protection.publish_estimate(
                        row.lot_less_chosen_points,
                        n_people=row.n_people,
                        k=context.k,
                        scale=protection.DIFFERENCE_POINTS,
                    )
                )
            }
            for row in rows
            if _may_stand(row.place, row.n_people, None)
            and row.lot_less_chosen_points.upper - row.lot_less_chosen_points.lower <= WIDEST_POINTS
        ]
    )


def saying_rows(sites: Iterable[CellFit], ranges: Iterable[Row], context: EditionContext) -> list[Row]:
    """What fingersticks mostly were behind a displayed value, at sites of 30 people and more.

    Nothing enters but published numbers: the rounded centre and scatter of readings, and the rounded shares of all
    fingersticks below 70 and above 180 mg/dL that stand in the table of ranges. Without those there is no row.
    """
    references = _references(ranges)
    if references is None:
        return []
    return _in_order(
        [
            _head(site.place, site.n_people) | {"says": _says(site, references, context)}
            for site in sites
            if _may_stand(site.place, site.n_people, None)
        ]
    )


def _says(site: CellFit, references: References, context: EditionContext) -> list[Says]:
    def rounded(number: float, scale: Scale) -> float:
        figure = protection.publish_value(number, n_people=site.n_people, k=context.k, scale=scale)
        return float(_told(figure).value or 0)  # type: ignore[union-attr]

    location = rounded(site.location, protection.LOCATION_LOG)
    reading_sd_log = rounded(site.reading_sd_log, protection.READING_SD_LOG)
    found = []
    for shown in SHOWN_MG_DL:
        ends = fingerstick_range(shown, location=location, reading_sd_log=reading_sd_log, references=references)
        figure = protection.publish_range(
            *ends, n_people=site.n_people, k=context.k, scale=protection.GLUCOSE_MG_DL, step=Decimal(1)
        )
        if isinstance(figure, Published):
            found.append(Says(shown, figure))
    return found


def _references(ranges: Iterable[Row]) -> References | None:
    shares: Mapping[object, object] = {row["range"]: row["share_pct"] for row in ranges if row["label"] == ALL_SITES}
    low, high = shares.get(LOW_RANGE), shares.get(HIGH_RANGE)
    if not (isinstance(low, Published) and isinstance(high, Published)):
        return None
    return References.of_shares(float(low.value or 0), float(high.value or 0))


def _part_row(row: PartRow, name: str, context: EditionContext) -> Row:
    def estimate(figure: Estimate | None, scale: Scale) -> Told:
        if figure is None:
            return None
        return _told(protection.publish_estimate(figure, n_people=row.n_people, k=context.k, scale=scale))

    made: Row = _head(row.place, row.n_people) | {
        name: row.part,
        "mard_pct": estimate(row.mard_pct, protection.MARD_PCT),
        "against_all_points": estimate(row.against_all_points, protection.DIFFERENCE_POINTS),
        "within_15_15_pct": estimate(row.within_15_15_pct, protection.SHARE_PCT),
        "within_20_20_pct": estimate(row.within_20_20_pct, protection.SHARE_PCT),
        "share_pct": estimate(row.share_pct, protection.SHARE_PCT),
    }
    if name == "prompt":
        made["against_scheduled_points"] = estimate(row.against_scheduled_points, protection.DIFFERENCE_POINTS)
    return made


def _may_stand(place: str | None, n_people: int, row: PartRow | None) -> bool:
    """Looks at people, at the place, and at how wide an interval is."""
    known = place is None or place in SITES or place in REGIONS
    if not known or n_people < FULL_ROW_PEOPLE:
        return False
    if row is None:
        return True
    widest = max(WIDEST_POINTS, 0.0 if row.mard_pct is None else row.mard_pct.median)
    return row.against_all_points.upper - row.against_all_points.lower <= widest


def _share(share_pct: Estimate | None, n_people: int, context: EditionContext) -> Told:
    if share_pct is None or share_pct.upper - share_pct.lower > WIDEST_PCT:
        return None
    return _told(protection.publish_share(share_pct, n_people=n_people, k=context.k))


def _head(place: str | None, n_people: int) -> Row:
    where = {"site": None, "region": None, "sensor_model": None} if place is None else whereabouts(place, None)
    return {
        **where,
        "label": ALL_SITES if place is None else place_label(place),
        "people": band_people(n_people),
        "withheld": False,
    }


def _told(figure: Published | Withheld) -> Told:
    return figure if isinstance(figure, Published) else None


def _in_order(rows: list[Row], name: str = "") -> list[Row]:
    """All sites together first, then by name; parts in the order in which they came."""
    keys = [(row["site"], row["region"], row.get(name)) for row in rows]
    if len(set(keys)) < len(keys):
        raise InvalidInput("parts hold a place twice")
    return sorted(rows, key=lambda row: str(row["site"] or row["region"] or ""))
