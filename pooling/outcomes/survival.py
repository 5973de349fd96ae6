"""How long sensors stay on the skin: shares still on at fixed days and at the end of the rated life, and early ends.

What is told is the share of all wears, each end counted whatever brought it about. No wear is set aside as censored: a
sensor taken off for a scan was not on any more, and a life table that leaves such wears out answers another question.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from pooling.hierarchy.channel import ChannelFit
from pooling.hierarchy.pool import Where
from pooling.hierarchy.results import Estimate
from pooling.outcomes.levels import Drawn, drawn_rows
from pooling.sealing import SealedRecords
from pooling.sealing.version import DAYS_ON

ENDS = ("off_adhesive", "off_device", "off_body", "off_other")
RATED = "on_rated"


@dataclass(frozen=True, slots=True)
class Survival:
    """Per cent of wears at a place, of one sensor model or over all of them (sensor_model None).

    on_pct goes by day, for days that every sensor of the row is rated to reach. Its shares never rise from day to day,
    and rated_pct is the last of them. later_pct holds days that only some reach, with the people behind those, where
    they wore several models: one model's share stands in its own row. ends_pct are shares of all wears that came off
    early.
    """

    place: str
    sensor_model: str | None
    n_people: int
    on_pct: Mapping[int, Estimate]
    rated_pct: Estimate
    later_pct: Mapping[int, tuple[Estimate, int]]
    ends_pct: Mapping[str, Estimate]


def survival(
    records: SealedRecords, fits: Mapping[str, ChannelFit], *, rated_life_days: Mapping[str, int]
) -> tuple[Survival, ...]:
    """Turn the fits of the channels of survival into rows.

    Parameters
    ----------
    records : SealedRecords
        The records that the channels were fitted from.
    fits : mapping of str to ChannelFit
        `on_rated` and the four kinds of early end; days as far as somebody's sensor reaches them.
    rated_life_days : mapping of str to int
        By sensor model. Where the life of all sensors of a row is one of the days, both are one figure.

    Returns
    -------
    tuple of Survival
        Empty where `on_rated` was not fitted.

    Raises
    ------
    InvalidInput
        A channel was fitted from other records.

    Notes
    -----
    Channels are fitted apart, so that shares of ends have to be made to add up to what is left of all wears, and
    `falling` has to put days in order.
    """
    if RATED not in fits:
        return ()
    rows = {channel: drawn_rows(records, fit) for channel, fit in fits.items()}
    return tuple(
        _row(where, {channel: drawn[where] for channel, drawn in rows.items() if where in drawn}, rated_life_days)
        for where in rows[RATED]
    )


def falling(estimates: Sequence[Estimate]) -> list[Estimate]:
    """Put medians, lower ends and upper ends of shares that cannot rise into falling order.

    Notes
    -----
    Rearranged estimates and intervals of a monotone function are never worse than the given ones, and intervals keep
    at least their coverage (Chernozhukov, Fernandez-Val and Galichon 2009, Biometrika 96, 559-575).

    Examples
    --------
    >>> [share.median for share in falling([Estimate(0.9, 0.8, 1.0), Estimate(0.92, 0.85, 0.97)])]
    [0.92, 0.9]
    """
    if not estimates:
        return []
    ends = np.array([(share.median, share.lower, share.upper) for share in estimates])
    return [Estimate(*map(float, row)) for row in -np.sort(-ends, axis=0)]


def _row(where: Where, drawn: Mapping[str, Drawn], rated_life_days: Mapping[str, int]) -> Survival:
    place, sensor_model = where
    rated = drawn[RATED]
    lives = {rated_life_days.get(model or "") for model in rated.sensor_models}
    life = lives.pop() if len(lives) == 1 else None
    days = {day: drawn[f"on{day}"] for day in DAYS_ON if f"on{day}" in drawn}
    of_all = [day for day, row in days.items() if row.n_wears == rated.n_wears and day != life]
    chain = falling([_percent(days[day].draws) for day in of_all] + [_percent(rated.draws)])
    on_pct = dict(zip(of_all, chain[:-1], strict=True))
    if life in days:
        on_pct[life] = chain[-1]
    return Survival(
        place=place,
        sensor_model=sensor_model,
        n_people=rated.n_people,
        on_pct=on_pct,
        rated_pct=chain[-1],
        later_pct={
            day: (_percent(row.draws), row.n_people)
            for day, row in days.items()
            if day not in on_pct and len(row.sensor_models) > 1
        },
        ends_pct=_ends({channel: drawn[channel].draws for channel in ENDS}, chain[-1]),
    )


def _ends(draws: Mapping[str, np.ndarray], rated_pct: Estimate) -> dict[str, Estimate]:
    """Shares of ends, each moved by the same factor so that they are together what is left of all wears."""
    own = {channel: _percent(found) for channel, found in draws.items()}
    factor = (100 - rated_pct.median) / max(sum(share.median for share in own.values()), 1e-9)
    return {
        channel: Estimate(*(min(factor * limit, 100.0) for limit in (share.median, share.lower, share.upper)))
        for channel, share in own.items()
    }


def _percent(draws: np.ndarray) -> Estimate:
    return Estimate.of(100 * draws)
