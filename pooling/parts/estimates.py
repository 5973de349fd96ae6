"""What parts say of each place: nearness by phase, range and prompt, lows missed, false lows, fingersticks by range."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from pooling.crossing import PARTITIONS
from pooling.hierarchy import FitRules, PooledFit
from pooling.hierarchy.noise import seen_factors
from pooling.hierarchy.pool import Counts, channel_pool, count, holding
from pooling.hierarchy.results import Estimate
from pooling.outcomes import Survival
from pooling.parts.contrasts import Measured, Scatter, against_whole, between, mean_of, share_of_first
from pooling.parts.days import days_by_phase
from pooling.parts.exchange import exchangeable
from pooling.parts.lots import LotRow, lot_rows
from pooling.parts.sums import CHANNELS, Floats, PartSums, distinct_people, place_sums
from pooling.sealing import SealedRecords

DAYS_ALIKE = "all_days_alike"
"""The phase of a row in which every day worn counts the same, however many readings it has."""
SHOWN_PROMPTS = ("scheduled", "doubt")
_SCALES = {"direct": 0.01, "rate15": 0.03, "rate20": 0.03}
_LOW_SCALE = 0.08
_LEAST_MEAN = 0.01
Place = str | None
"""A place, or None: all places together."""


@dataclass(frozen=True, slots=True)
class PartRow:
    """Nearness to the fingerstick in one part of the pairs of a place; None at "place" is all places together.

    Figures of a place are those of its row in the edition moved by what the part differs from all pairs; all places
    together have differences alone. share_pct is the share of the pairs that lie in the part.
    """

    place: Place
    part: str
    n_people: int
    against_all_points: Estimate
    mard_pct: Estimate | None = None
    within_15_15_pct: Estimate | None = None
    within_20_20_pct: Estimate | None = None
    against_scheduled_points: Estimate | None = None
    share_pct: Estimate | None = None


@dataclass(frozen=True, slots=True)
class LowRow:
    """Of 100 low fingersticks, those that the sensor did not show as low; of 100 low readings, those that were not."""

    place: Place
    n_people: int
    missed_pct: Estimate | None
    false_pct: Estimate | None


@dataclass(frozen=True, slots=True)
class Parts:
    """All tables that come from parts. Empty where nothing was split."""

    phases: tuple[PartRow, ...] = ()
    ranges: tuple[PartRow, ...] = ()
    prompts: tuple[PartRow, ...] = ()
    lows: tuple[LowRow, ...] = ()
    lots: tuple[LotRow, ...] = ()


@dataclass(frozen=True)
class _Pool:
    """What every row is made from."""

    records: SealedRecords
    counts: Counts
    scatter: Mapping[str, Scatter]
    """By channel."""
    fit: PooledFit
    rules: FitRules
    rng: np.random.Generator
    days: Mapping[str, Mapping[str, float]] = field(default_factory=dict)

    def sums(self, partition: str) -> dict[str, dict[Place, PartSums]]:
        return {channel: place_sums(self.records, partition, channel, self.rules.versions) for channel in CHANNELS}

    def n_people(self, place: Place, sums: PartSums) -> int:
        members = self.counts.members_by_place()
        inside = range(len(self.counts.cells)) if place is None else members.get(place, ())
        return distinct_people(sums.n_accounts, self.counts, inside)


def estimate(
    records: SealedRecords,
    fit: PooledFit,
    rules: FitRules,
    rng: np.random.Generator,
    *,
    survival: Sequence[Survival] = (),
    rated_life_days: Mapping[str, int],
) -> Parts:
    """Turn sealed parts into rows.

    Parameters
    ----------
    records : SealedRecords
        Those that the pool was fitted from.
    fit : PooledFit
        Gives the level of each place, which parts move.
    rules : FitRules
    rng : numpy.random.Generator
    survival : sequence of Survival
        Shares still on, from which days worn by phase follow; without them no row counts days alike.
    rated_life_days : mapping of str to int
        By sensor model.

    Returns
    -------
    Parts
        A row is missing where its weight does not stand out of masking noise (`PartSums.can_tell`): that looks at how
        many pairs there are and never at what they say.
    """
    merged = records.merged()
    if not merged.parts:
        return Parts()
    pool = _Pool(
        merged,
        count(holding(merged, "direct")),
        scatter_by_channel(merged, rules),
        fit,
        rules,
        rng,
        days_by_phase(survival, rated_life_days),
    )
    found = {partition: pool.sums(partition) for partition in PARTITIONS}
    return Parts(
        phases=(*_rows(pool, found["phase"], PARTITIONS["phase"]), *_days_alike(pool, found["phase"])),
        ranges=tuple(_rows(pool, found["range"], PARTITIONS["range"])),
        prompts=tuple(_rows(pool, found["prompt"], SHOWN_PROMPTS)),
        lows=tuple(_lows(pool, found["range"]["shown_low"])),
        lots=lot_rows(merged, fit, rules, rng, pool.counts),
    )


def scatter_by_channel(records: SealedRecords, rules: FitRules) -> dict[str, Scatter]:
    """By channel, scatter of readings as the pool tells it, and of people as the newest seal version assumes it."""
    blocks = holding(records, "direct").blocks
    number = max(block.seal_version for block in blocks)
    version = rules.versions[number]
    bundles = [one for one in records.bundles if one.kind == "between" and one.family == "accuracy"]
    factor = seen_factors(bundles, "direct")
    constants = version.channels["direct"]
    mean = max(channel_pool(records, "direct", rules.versions).scale, _LEAST_MEAN)
    common = Scatter(
        pairs_per_person=sum(block.n_pairs for block in blocks) / sum(block.n_wearers for block in blocks),
        # What the pool's readings scatter is of the pool's own mean, whatever the version took that to be.
        relative_variance=factor.get(number, 1.0) * constants.noise / mean**2,
        person_variance=constants.person_variance,
    )
    rates = {
        name: replace(common, person_variance=version.channels[name].person_variance) for name in ("rate15", "rate20")
    }
    return {"direct": common, "shown_low": common} | rates


def _rows(pool: _Pool, found: Mapping[str, Mapping[Place, PartSums]], parts: Sequence[str]) -> Iterator[PartRow]:
    for part in parts:
        moved = _moved(pool, found, lambda _place, part=part: {part: 1.0})  # type: ignore[misc]
        doubt = part == "doubt"
        apart = _drawn(pool, found["direct"], _SCALES["direct"], _less_scheduled(pool)) if doubt else {}
        for place in moved["direct"]:
            share = _share(found["direct"][place], part) if place is None else None
            yield _row(pool, place, part, moved, apart.get(place), share, found["direct"][place])


def _days_alike(pool: _Pool, found: Mapping[str, Mapping[Place, PartSums]]) -> Iterator[PartRow]:
    def weights(place: Place) -> dict[str, float]:
        days = pool.days.get(place or "", {})
        whole = sum(days.values())
        return {part: own / whole for part, own in days.items() if own > 0} if whole else {}

    moved = _moved(pool, found, weights)
    for place in moved["direct"]:
        yield _row(pool, place, DAYS_ALIKE, moved, None, None, found["direct"][place])


Draws = dict[Place, Floats]


def _moved(
    pool: _Pool,
    found: Mapping[str, Mapping[Place, PartSums]],
    weights: Callable[[Place], Mapping[str, float]],
) -> dict[str, Draws]:
    """Per channel and place, draws of what the parts so weighted differ from all pairs."""

    def measure(sums: PartSums, place: Place, channel: str) -> Measured | None:
        wanted = weights(place)
        yes_no = channel != "direct"
        return against_whole(sums, wanted, pool.scatter[channel], yes_no=yes_no) if wanted else None

    return {
        channel: _drawn(
            pool,
            found[channel],
            scale,
            lambda sums, place, channel=channel: measure(sums, place, channel),  # type: ignore[misc]
        )
        for channel, scale in _SCALES.items()
    }


def _less_scheduled(pool: _Pool) -> Callable[[PartSums, Place], Measured | None]:
    def measure(sums: PartSums, _place: Place) -> Measured | None:
        return between(sums, "doubt", "scheduled", pool.scatter["direct"], yes_no=False)

    return measure


def _drawn(
    pool: _Pool,
    found: Mapping[Place, PartSums],
    scale: float,
    measure: Callable[[PartSums, Place], Measured | None],
) -> Draws:
    """Draws per place, places moved toward each other; all places together stand by themselves."""
    measured = {place: measure(sums, place) for place, sums in found.items()}
    told = {place: one for place, one in measured.items() if one is not None}
    places = sorted(place for place in told if place is not None)
    n_draws = pool.rules.draws
    drawn: Draws = {}
    if places:
        columns = exchangeable([told[place] for place in places], scale, pool.rng, draws=n_draws)
        drawn |= {place: columns[:, index] for index, place in enumerate(places)}
    if None in told:
        drawn[None] = exchangeable([told[None]], scale, pool.rng, draws=n_draws)[:, 0]
    return drawn


def _row(
    pool: _Pool,
    place: Place,
    part: str,
    moved: Mapping[str, Draws],
    apart: Floats | None,
    share: Estimate | None,
    sums: PartSums,
) -> PartRow:
    site = next((one for one in pool.fit.sites if one.place == place), None)
    difference = moved["direct"][place]
    row = PartRow(
        place=place,
        part=part,
        n_people=pool.n_people(place, sums),
        against_all_points=Estimate.of(100 * difference),
        against_scheduled_points=None if apart is None else Estimate.of(100 * apart),
        share_pct=share,
    )
    if site is None or place is None:
        return row
    level = np.exp(_about(pool, np.log(site.mard_pct.median), *np.log((site.mard_pct.lower, site.mard_pct.upper))))
    rates = {
        name: np.clip(_about(pool, own.median, own.lower, own.upper) + 100 * moved[channel][place], 0, 100)
        for name, channel, own in (
            ("within_15_15_pct", "rate15", site.within_15_15_pct),
            ("within_20_20_pct", "rate20", site.within_20_20_pct),
        )
        if place in moved[channel]
    }
    return PartRow(
        place=row.place,
        part=row.part,
        n_people=row.n_people,
        against_all_points=row.against_all_points,
        against_scheduled_points=row.against_scheduled_points,
        share_pct=row.share_pct,
        mard_pct=Estimate.of(np.maximum(level + 100 * difference, 0.0)),
        within_15_15_pct=Estimate.of(rates["within_15_15_pct"]) if "within_15_15_pct" in rates else None,
        within_20_20_pct=Estimate.of(rates["within_20_20_pct"]) if "within_20_20_pct" in rates else None,
    )


def _about(pool: _Pool, median: float, lower: float, upper: float) -> Floats:
    """Draws of a normal law with these limits; parts know no more of a level than its row says."""
    return np.asarray(median + pool.rng.standard_normal(pool.rules.draws) * (upper - lower) / (2 * 1.959964))


def _share(sums: PartSums, part: str) -> Estimate | None:
    """Share of pairs in a part, in per cent, with the limits that masking noise and people's differences leave."""
    position = sums.place_of(part)
    if not sums.can_tell(position):
        return None
    share = float(sums.share[position])
    # Between people as in `contrasts`; the noise of weights is known.
    variance = float(sums.weight_noise[position, position]) / sums.total**2
    variance += 0.1 * share * (1 - share) * sums.squared_weight / sums.total**2
    return Estimate(*(100 * min(max(end, 0.0), 1.0) for end in (share, *_limits(share, variance))))


def _limits(value: float, variance: float) -> tuple[float, float]:
    half = 1.959964 * variance**0.5
    return value - half, value + half


def _lows(pool: _Pool, found: Mapping[Place, PartSums]) -> Iterator[LowRow]:
    low = PARTITIONS["range"][0]

    def seen(sums: PartSums, _place: Place) -> Measured | None:
        return mean_of(sums, low, pool.scatter["shown_low"], yes_no=True)

    def false(sums: PartSums, _place: Place) -> Measured | None:
        return share_of_first(sums, low, pool.scatter["shown_low"])

    missed = {place: 1 - draws for place, draws in _drawn(pool, found, _LOW_SCALE, seen).items()}
    not_low = _drawn(pool, found, _LOW_SCALE, false)
    for place in sorted({*missed, *not_low}, key=lambda place: place or ""):
        yield LowRow(
            place,
            pool.n_people(place, found[place]),
            *(
                Estimate.of(100 * np.clip(draws[place], 0.0, 1.0)) if place in draws else None
                for draws in (missed, not_low)
            ),
        )
