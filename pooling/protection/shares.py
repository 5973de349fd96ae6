"""Shares of people: printed only where neither side is a few, and never so that a few are left by taking away.

The sealed records hold no count of people who had something and people who had not, so none is asked for. What is
looked at is the rounded share and the lower end of the band of people, which the reader has as well: a share is printed
where every count that fits it and the band has k people on either side. So nobody can work a smaller count out of what
is printed, and whether it is printed tells nothing that the printed number and the band would not. A bound says even
less: it is made of k and the band, or of numbers that stand beside it.
"""

from collections.abc import Mapping
from decimal import Decimal

from pooling.protection.figures import (
    FULL_ROW_PEOPLE,
    SHARE_PCT,
    WITHHELD,
    Band,
    Estimate,
    Published,
    Withheld,
    band_people,
    bounded,
    few_of,
    publish_estimate,
    publish_value,
    step_of,
)

WHOLE = Decimal(100)
NONE = Decimal(0)


def publish_share(share_pct: Estimate, *, n_people: int, k: int) -> Published | Withheld:
    """A share of people, or a bound where it speaks of fewer than k people on either side; its interval from 30 people.

    Withheld where the band could not hold k people on both sides.

    Parameters
    ----------
    share_pct
        Median and 95 % ends, in per cent.
    n_people, k
        Distinct people behind it, and the fewest on either side.

    Raises
    ------
    InvalidInput
        If a number is not finite, the three are out of order, or k is under the floor.

    Examples
    --------
    >>> from pooling.hierarchy.results import Estimate
    >>> float(publish_share(Estimate(84.6, 77.2, 90.1), n_people=64, k=5).value)
    84.5
    >>> most = publish_share(Estimate(97.0, 92.0, 99.0), n_people=64, k=5)
    >>> float(most.value), most.bound
    (90.0, 'at_least')
    """
    figure = publish_estimate(share_pct, n_people=n_people, k=k, scale=SHARE_PCT)
    if isinstance(figure, Withheld) or figure.value is None:
        return WITHHELD
    band = band_people(n_people)
    if band.at_least < 2 * k:
        return WITHHELD
    few = few_of(band, k)
    if not _is_k(figure.value, band, k, n_rounded=1):
        return bounded(few, "at_most")
    if not _is_k(WHOLE - figure.value, band, k, n_rounded=1):
        return bounded(WHOLE - few, "at_least")
    if n_people < FULL_ROW_PEOPLE:
        return publish_value(share_pct.median, n_people=n_people, k=k, scale=SHARE_PCT)
    return figure


def publish_falling(
    shares_pct: Mapping[int, Estimate], last: Published | Withheld, *, n_people: int, k: int
) -> dict[int, Published | Withheld]:
    """Shares still on at days before ``last``, merged so that at least k people left in each printed step.

    A day whose step would be smaller says no more than that its share is at least the next printed one, which follows
    from the order of days: whether nobody left by then, or a few, looks alike.

    Parameters
    ----------
    shares_pct
        By day, none higher than that of the day before or lower than the one that ``last`` was made from.
    last
        The share at the end, as published.

    Examples
    --------
    >>> from pooling.hierarchy.results import Estimate
    >>> shares = {3: Estimate(98.0, 95.0, 99.0), 10: Estimate(91.0, 85.0, 95.0)}
    >>> end = publish_share(Estimate(85.0, 79.0, 90.0), n_people=120, k=5)
    >>> [(figure.bound, float(figure.value)) for figure in publish_falling(shares, end, n_people=120, k=5).values()]
    [('at_least', 91.0), (None, 91.0)]
    """
    if isinstance(last, Withheld) or last.value is None or last.bound == "at_most":
        return dict.fromkeys(shares_pct, WITHHELD)
    band, before, found = band_people(n_people), WHOLE, dict[int, Published | Withheld]()
    for day in sorted(shares_pct):
        figure = publish_share(shares_pct[day], n_people=n_people, k=k)
        # A bound has no step of its own: it would only hide one.
        if isinstance(figure, Published) and figure.bound is None and figure.value is not None:
            steps = (before - figure.value, figure.value - last.value)
            if all(_is_k(step, band, k, n_rounded=2) for step in steps):
                found[day], before = figure, figure.value
    return {day: found.get(day) or _next_shown(found, day, last.value) for day in sorted(shares_pct)}


def publish_split(
    parts_pct: Mapping[str, Estimate], rest: Published | Withheld, *, n_people: int, k: int
) -> dict[str, Published | Withheld]:
    """Parts of what is not ``rest``: where one is a few, so much is held back that no few are left by taking away.

    What is held back says how much the parts held back make up together, which the printed ones tell anyway.

    Parameters
    ----------
    parts_pct
        Shares of the whole, in per cent, that add up to what ``rest`` leaves.
    rest
        The other share of the whole, as published.

    Examples
    --------
    >>> from pooling.hierarchy.results import Estimate
    >>> rest = publish_share(Estimate(75.0, 70.0, 80.0), n_people=120, k=5)
    >>> parts = {"a": Estimate(16.0, 12.0, 20.0), "b": Estimate(8.0, 5.0, 12.0), "c": Estimate(1.0, 0.2, 3.0)}
    >>> [(figure.bound, float(figure.value)) for figure in publish_split(parts, rest, n_people=120, k=5).values()]
    [(None, 16.0), ('at_most', 9.2), ('at_most', 9.2)]
    """
    if isinstance(rest, Withheld) or rest.value is None or rest.bound == "at_most":
        return dict.fromkeys(parts_pct, WITHHELD)
    whole, band = WHOLE - rest.value, band_people(n_people)
    if rest.bound is not None:
        return dict.fromkeys(parts_pct, bounded(whole, "at_most"))
    made = {name: publish_share(share, n_people=n_people, k=k) for name, share in parts_pct.items()}
    shown = {
        name: figure
        for name, figure in made.items()
        if isinstance(figure, Published) and figure.bound is None and figure.value is not None
    }
    while len(shown) < len(made) and not _is_k(_left(whole, shown), band, k, n_rounded=len(shown) + 1) and shown:
        del shown[min(shown, key=lambda name: (shown[name].value, name))]
    # Rounded numbers taken from each other may be off by half a step each: the bound gives way outward.
    outward = step_of(SHARE_PCT, band) * ((len(shown) + 1) // 2)
    held = bounded(min(max(_left(whole, shown), NONE) + outward, whole), "at_most")
    return {name: shown.get(name, held) for name in made}


def _is_k(share_pct: Decimal, band: Band, k: int, *, n_rounded: int) -> bool:
    """Whether a share made of so many rounded numbers is k people or more for every count in the band."""
    slack = step_of(SHARE_PCT, band) / 2 * n_rounded
    return (share_pct - slack) * band.at_least >= 100 * k


def _next_shown(found: Mapping[int, Published | Withheld], day: int, last: Decimal) -> Published:
    later = [figure.value for when, figure in sorted(found.items()) if when > day and isinstance(figure, Published)]
    return bounded(next((value for value in later if value is not None), last), "at_least")


def _left(whole: Decimal, shown: Mapping[str, Published]) -> Decimal:
    return whole - sum((figure.value for figure in shown.values() if figure.value is not None), NONE)
