"""Rows beside accuracy: how long sensors stayed on, skin, ratings, readings far off. Same cells, other people."""

from collections.abc import Iterable, Mapping

from pooling import protection
from pooling.edition.inputs import EditionContext
from pooling.edition.rows import Cell, Row, place_label, whereabouts
from pooling.errors import InvalidInput
from pooling.outcomes import Level, Outcomes, Survival
from pooling.outcomes.survival import ENDS
from pooling.protection import FULL_ROW_PEOPLE, Published, Withheld, band_people
from pooling.sealing import FEWEST_PEOPLE
from pooling.sealing.version import DAYS_ON

Told = Published | None
"""A figure, or nothing: what is withheld, empty or of nobody looks alike."""


def survival_rows(outcomes: Outcomes, context: EditionContext) -> list[Row]:
    """Shares of wears still on at fixed days and at the rated life, and how the others ended.

    Under 30 people only the share at the rated life, the figure that a row of few people may hold.
    """
    rows = [_survival_row(own, context) for own in outcomes.survival if own.n_people >= context.k]
    return _in_order(row for row in rows if row["on_rated_pct"] is not None)


def skin_rows(outcomes: Outcomes, context: EditionContext) -> list[Row]:
    """Share of people whose skin reacted with grade 2 or more."""
    k = _fewest("skin", context)
    return _in_order(
        _head(level) | {"reaction_pct": _told(protection.publish_share(level.estimate, n_people=level.n_people, k=k))}
        for level in _full(outcomes.reaction_pct)
    )


def rating_rows(outcomes: Outcomes, context: EditionContext) -> list[Row]:
    """Mean ratings from 0 to 10, one row a rating: not everybody gives all of them."""
    return _in_order(
        _head(level)
        | {
            "rating": rating,
            "mean_points": _told(
                protection.publish_estimate(
                    level.estimate,
                    n_people=level.n_people,
                    k=_fewest(rating, context),
                    scale=protection.RATING_POINTS,
                )
            ),
        }
        for rating, levels in outcomes.ratings.items()
        for level in _full(levels)
    )


def on_rated_by_cell(rows: Iterable[Row]) -> Mapping[Cell, Told]:
    """The share on at the rated life of each row of survival: in a row of accuracy stands the same figure."""
    return {_cell(row): row["on_rated_pct"] for row in rows}  # type: ignore[misc]


def far_by_cell(outcomes: Outcomes, context: EditionContext) -> Mapping[Cell, Told]:
    """Readings in zones C to E of 1,000: only the upper 95 % limit, and from 30 people."""
    return {
        (level.place, level.sensor_model): _told(
            protection.publish_highest(
                level.estimate.upper, n_people=level.n_people, k=context.k, scale=protection.FAR_PER_1000
            )
        )
        for level in _full(outcomes.far_per_1000)
    }


def _survival_row(own: Survival, context: EditionContext) -> Row:
    n_people, k = own.n_people, context.k
    rated = protection.publish_share(own.rated_pct, n_people=n_people, k=k)
    days: dict[int, Published | Withheld] = {}
    ends: dict[str, Published | Withheld] = {}
    if n_people >= FULL_ROW_PEOPLE:
        life = {day: rated for day, share in own.on_pct.items() if share is own.rated_pct}
        earlier = {day: share for day, share in own.on_pct.items() if day not in life}
        days = protection.publish_falling(earlier, rated, n_people=n_people, k=k) | life
        days |= {
            day: protection.publish_share(share, n_people=n, k=k)
            for day, (share, n) in own.later_pct.items()
            if n >= FULL_ROW_PEOPLE
        }
        ends = protection.publish_split(own.ends_pct, rated, n_people=n_people, k=k)
    return {
        **_head(own),
        **{f"on_day_{day}_pct": _told(days.get(day)) for day in DAYS_ON},
        "on_rated_pct": _told(rated),
        **{f"{end}_pct": _told(ends.get(end)) for end in ENDS},
    }


def _head(own: Level | Survival) -> Row:
    return {
        **whereabouts(own.place, own.sensor_model),
        "label": place_label(own.place),
        "people": band_people(own.n_people),
        "withheld": False,
    }


def _full(levels: Iterable[Level]) -> list[Level]:
    return [level for level in levels if level.n_people >= FULL_ROW_PEOPLE]


def _fewest(family: str, context: EditionContext) -> int:
    return max(context.k, FEWEST_PEOPLE.get(family, 0))


def _told(figure: Published | Withheld | None) -> Told:
    return figure if isinstance(figure, Published) else None


def _cell(row: Row) -> Cell:
    place = row["site"] or row["region"] or "other"
    return str(place), None if row["sensor_model"] is None else str(row["sensor_model"])


def _in_order(rows: Iterable[Row]) -> list[Row]:
    """By name: the order of a list must not tell who came last."""
    keyed = [((*_cell(row), row.get("rating")), row) for row in rows]
    if len({key for key, _ in keyed}) < len(keyed):
        raise InvalidInput("the outcomes hold a cell twice")
    return [row for _, row in sorted(keyed, key=lambda pair: tuple(str(part or "") for part in pair[0]))]
