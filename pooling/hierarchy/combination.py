"""The channels put together: level from the direct channel, differences from location and dispersion."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, logit, ndtri
from scipy.stats import qmc

from pooling.errors import InvalidInput
from pooling.hierarchy.channel import ChannelFit
from pooling.hierarchy.closedforms import Mixture
from pooling.hierarchy.pool import Counts, Where, count
from pooling.hierarchy.results import CellFit, Contrast, Estimate, PooledFit
from pooling.hierarchy.rules import CHANNELS, FitRules
from pooling.sealing import SealedRecords

Floats = NDArray[np.float64]

_BANDS = {"rate15": 0.15, "rate20": 0.20}
_N_PEOPLE, _N_THINNED = 256, 24
_MOST_KURTOSIS = 12.0
_FAR_APART = 3.0


@dataclass(frozen=True)
class _Draws:
    """Draws x cells of everything that a row shows."""

    mard: Floats
    overall_mard: Floats
    location: Floats
    log_variance: Floats
    rates: Mapping[str, Floats]
    composite: Floats


def combine(
    sealed_records: SealedRecords,
    channel_fits: Mapping[str, ChannelFit],
    rules: FitRules,
    rng: np.random.Generator,
) -> PooledFit:
    """Combine the five channel fits into rows, contrasts and spreads.

    The level of MARD is that of the direct channel, which assumes nothing about the shape of readings; what differs
    between cells comes from location and dispersion in closed form, which is the more precise. Both meet in one factor
    per draw: it takes the people-weighted mean of the closed forms, worked out for those who did choose each cell, to
    the direct level, which is theirs as well. Whoever reads high may prefer a site that reads high: the pool's own mean
    is then not that of people chosen by lot, and a factor between two means of the same people leaves that out. The
    rates are moved likewise, by one shift on the logit scale.

    Parameters
    ----------
    sealed_records : SealedRecords
        The records that the channels were fitted from.
    channel_fits : mapping of str to ChannelFit
        All of CHANNELS.
    rules : FitRules
    rng : numpy.random.Generator
        For pairing draws of different channels, and for the people of the 80 % range.

    Returns
    -------
    PooledFit

    Raises
    ------
    InvalidInput
        A channel is missing, or was fitted from other cells.
    """
    counts = count(sealed_records.of_family("accuracy").merged())
    fits = _checked(channel_fits, counts)
    kurtosis, from_data = _kurtosis(sealed_records, rules)
    # Channels were fitted separately; a shuffle keeps chance from pairing their draws.
    order = {name: rng.permutation(len(fits[name].levels)) for name in CHANNELS}
    mixture = _mixture(fits, order, kurtosis, "levels_within")
    draws = _draws(mixture, fits, order, kurtosis, counts.people_share)
    people = _people_ranges(mixture, draws, fits, order, counts, rng)
    half_widths = _half_widths(mixture)
    cells = tuple(
        _row(cell, [index], np.ones(1), counts, draws, people[(index,)], half_widths)
        for index, cell in enumerate(counts.cells)
    )
    sites = tuple(
        _row((place, None), list(members), counts.share_among(members), counts, draws, people[members], half_widths)
        for place, members in counts.members_by_place().items()
    )
    return PooledFit(
        cells=cells,
        sites=sites,
        contrasts=_contrasts(counts, draws, fits["location"].components),
        spreads={name: _spreads(fit, n_places=len(sites)) for name, fit in fits.items()},
        kurtosis=kurtosis,
        diagnostics=_diagnostics(counts, fits, order, draws, kurtosis, from_data),
    )


def _checked(channel_fits: Mapping[str, ChannelFit], counts: Counts) -> dict[str, ChannelFit]:
    for name in CHANNELS:
        if name not in channel_fits:
            raise InvalidInput(f"the {name} channel has not been fitted")
        if channel_fits[name].cells != counts.cells:
            raise InvalidInput(f"the {name} channel was fitted from other records")
    return {name: channel_fits[name] for name in CHANNELS}


def _kurtosis(records: SealedRecords, rules: FitRules) -> tuple[float, bool]:
    """Pooled excess kurtosis of readings, and whether records say it or the seal version's constant has to do.

    The mean of k4 / k2^2 is too low because k2 varies; its expectation is corrected by one round of a fixed point.
    """
    bundles = [bundle for bundle in records.bundles if bundle.kind == "kurtosis"]
    if not bundles:
        newest = rules.versions[max(block.seal_version for block in records.blocks)]
        return newest.kurtosis, False
    cumulant, pairs, ratio, wears = (
        sum(rules.versions[bundle.seal_version].from_grid(bundle.sums["location"][i]) for bundle in bundles)
        for i in range(4)
    )
    raw = cumulant / pairs
    value = max(raw, 0.0)
    for _ in range(5):
        value = max(raw * (1 + (2 * ratio + value * wears) / pairs), 0.0)
    return min(value, _MOST_KURTOSIS), True


def _mixture(
    fits: Mapping[str, ChannelFit], order: Mapping[str, NDArray[np.int64]], kurtosis: float, levels: str
) -> Mixture:
    """Return the law of a reading at each cell: of a new person, or of one of those who chose it."""
    location, dispersion = fits["location"], fits["dispersion"]
    a, b = order["location"], order["dispersion"]
    left_out = levels == "levels_as_worn"
    within_cell = [
        fit.people_variance - left_out * fit.chosen_variance + fit.sd("wear") ** 2 for fit in (location, dispersion)
    ]
    return Mixture(
        location=getattr(location, levels)[a],
        location_variance=within_cell[0][a, None],
        log_variance=getattr(dispersion, levels)[b],
        log_variance_variance=within_cell[1][b, None],
        kurtosis=kurtosis,
    )


def _draws(
    mixture: Mixture,
    fits: Mapping[str, ChannelFit],
    order: Mapping[str, NDArray[np.int64]],
    kurtosis: float,
    share: Floats,
) -> _Draws:
    as_worn = _mixture(fits, order, kurtosis, "levels_as_worn")
    composite = np.maximum(mixture.mean_relative_difference(), 1e-6)
    overall = _mixture(fits, order, kurtosis, "levels").mean_relative_difference()
    worn = np.maximum(as_worn.mean_relative_difference(), 1e-6) @ share
    level = np.maximum(fits["direct"].levels[order["direct"]] @ share, 1e-3)
    rates = {}
    for name, band in _BANDS.items():
        shift = shift_to_level(as_worn.share_within(band), fits[name].levels[order[name]] @ share, share)
        rates[name] = expit(_logit(mixture.share_within(band)) + shift[:, None])
    factor = (level / worn)[:, None]
    return _Draws(composite * factor, overall * factor, mixture.location, mixture.log_variance, rates, composite)


def shift_to_level(shares: Floats, level: Floats, weights: Floats) -> Floats:
    """Return the shifts on the logit scale, one a draw, that take the weighted mean of shares to the level.

    Parameters
    ----------
    shares : ndarray, shape (draws, cells)
        Fractions.
    level : ndarray, shape (draws,)
        Wanted weighted means; taken between 0.001 and 0.999.
    weights : ndarray, shape (cells,)
        Add up to 1.

    Examples
    --------
    >>> shift_to_level(np.array([[0.5, 0.7]]), np.array([0.8]), np.array([0.5, 0.5])).round(3)
    array([1.016])
    """
    base = _logit(shares)
    wanted = np.clip(level, 1e-3, 1 - 1e-3)
    low, high = np.full(len(base), -30.0), np.full(len(base), 30.0)
    for _ in range(60):
        middle = (low + high) / 2
        short = expit(base + middle[:, None]) @ weights < wanted
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    return (low + high) / 2


def _logit(shares: Floats) -> Floats:
    return logit(np.clip(shares, 1e-9, 1 - 1e-9))


def _people_ranges(
    mixture: Mixture,
    draws: _Draws,
    fits: Mapping[str, ChannelFit],
    order: Mapping[str, NDArray[np.int64]],
    counts: Counts,
    rng: np.random.Generator,
) -> dict[tuple[int, ...], tuple[float, float]]:
    """MARD that 10 and 90 of 100 people stay under, per cell and per site: medians over thinned draws, in percent.

    256 quasi-random people a draw, each with an own location and log variance; their wears and readings are integrated.
    """
    uniform = np.clip(qmc.Sobol(2, scramble=True, rng=rng).random(_N_PEOPLE), 1e-9, 1 - 1e-9)
    person_location, person_spread = ndtri(uniform).T
    kept = np.linspace(0, len(draws.mard) - 1, min(_N_THINNED, len(draws.mard))).astype(np.int64)
    location, dispersion = fits["location"], fits["dispersion"]
    a, b = order["location"][kept], order["dispersion"][kept]
    people = Mixture(
        location=mixture.location[kept, :, None]
        + np.sqrt(location.people_variance[a])[:, None, None] * person_location,
        location_variance=(location.sd("wear")[a] ** 2)[:, None, None],
        log_variance=mixture.log_variance[kept, :, None]
        + np.sqrt(dispersion.people_variance[b])[:, None, None] * person_spread,
        log_variance_variance=(dispersion.sd("wear")[b] ** 2)[:, None, None],
        kurtosis=mixture.kurtosis,
    ).mean_relative_difference()
    people *= (draws.mard[kept] / draws.composite[kept])[:, :, None]
    groups = {(index,) for index in range(len(counts.cells))} | set(counts.members_by_place().values())
    ranges = {}
    for members in sorted(groups):
        weights = np.repeat(counts.share_among(members) / _N_PEOPLE, _N_PEOPLE)
        flat = people[:, list(members), :].reshape(len(kept), -1)
        low, high = (np.median(_weighted_quantile(flat, weights, level)) for level in (0.1, 0.9))
        ranges[members] = (100 * float(low), 100 * float(high))
    return ranges


def _weighted_quantile(values: Floats, weights: Floats, level: float) -> Floats:
    """Quantile of each row when its columns have weights."""
    order = np.argsort(values, axis=1)
    reached = np.cumsum(weights[order], axis=1) - weights[order] / 2
    position = (reached < level).sum(axis=1)
    position = np.clip(position, 0, values.shape[1] - 1)
    return np.take_along_axis(values, np.take_along_axis(order, position[:, None], axis=1), axis=1)[:, 0]


def _half_widths(mixture: Mixture) -> Floats:
    """Per cell, half the width of the central 80 % of readings of a new wear, at the medians of all draws (log)."""
    medians = Mixture(
        np.median(mixture.location, axis=0),
        np.median(mixture.location_variance, axis=0),
        np.median(mixture.log_variance, axis=0),
        np.median(mixture.log_variance_variance, axis=0),
        mixture.kurtosis,
    )
    return medians.central_half_width(0.8)


def _row(
    cell: Where,
    members: list[int],
    weights: Floats,
    counts: Counts,
    draws: _Draws,
    people_range: tuple[float, float],
    half_widths: Floats,
) -> CellFit:
    def average(values: Floats) -> Floats:
        return values[:, members] @ weights

    location = average(draws.location)
    return CellFit(
        place=cell[0],
        sensor_model=cell[1],
        n_people=counts.people_among(members),
        n_wears=sum(counts.n_wears[index] for index in members),
        n_pairs=sum(counts.n_pairs[index] for index in members),
        mard_pct=Estimate.of(100 * average(draws.mard)),
        bias_pct=Estimate.of(100 * np.expm1(location)),
        within_15_15_pct=Estimate.of(100 * average(draws.rates["rate15"])),
        within_20_20_pct=Estimate.of(100 * average(draws.rates["rate20"])),
        people_range_pct=people_range,
        location=float(np.median(location)),
        log_variance=float(np.median(average(draws.log_variance))),
        reading_sd_log=float(half_widths[members] @ weights / ndtri(0.9)),
    )


def _contrasts(counts: Counts, draws: _Draws, components: tuple[tuple[int, ...], ...]) -> tuple[Contrast, ...]:
    """All pairs of sites, and within each sensor model all pairs of places."""
    component_of = {index: number for number, members in enumerate(components) for index in members}

    def contrast(kind: str, a: Where, b: Where, in_a: Sequence[int], in_b: Sequence[int]) -> Contrast:
        within, overall = (
            100 * np.subtract(*(mard[:, list(inside)] @ counts.share_among(inside) for inside in (in_a, in_b)))
            for mard in (draws.mard, draws.overall_mard)
        )
        linked = {component_of.get(index, -1 - index) for index in (*in_a, *in_b)}
        return Contrast(
            kind, a, b, Estimate.of(within), float((within < 0).mean()), len(linked) == 1, Estimate.of(overall)
        )

    sites = counts.members_by_place()
    found = [contrast("sites", (a, None), (b, None), sites[a], sites[b]) for a, b in combinations(sites, 2)]
    for i, j in combinations(range(len(counts.cells)), 2):
        a, b = counts.cells[i], counts.cells[j]
        if a[1] is not None and a[1] == b[1]:
            found.append(contrast("cells", a, b, (i,), (j,)))
    return tuple(found)


def _spreads(fit: ChannelFit, *, n_places: int) -> dict[str, Estimate]:
    """Spreads by name; of one place, how places differ would be the prior's word alone."""
    spreads = {name: Estimate.of(fit.sd(name)) for name in fit.names if name != "site" or n_places > 1}
    return spreads | {"people": Estimate.of(np.sqrt(fit.people_variance))}


def _diagnostics(
    counts: Counts,
    fits: Mapping[str, ChannelFit],
    order: Mapping[str, NDArray[np.int64]],
    draws: _Draws,
    kurtosis: float,
    from_data: bool,
) -> dict[str, Any]:
    """What a curator should look at before believing the rows."""
    difference = fits["direct"].levels[order["direct"]] - draws.mard
    sds = np.median(difference, axis=0) / np.maximum(difference.std(axis=0), 1e-9)
    apart = {f"{place}|{model or '*'}": float(sd) for (place, model), sd in zip(counts.cells, sds, strict=True)}
    return {
        "n_people": counts.people_among(range(len(counts.cells))),
        "effective": {name: fit.effective for name, fit in fits.items()},
        "method": {name: fit.method for name, fit in fits.items()},
        "nodes": {name: fit.n_evaluated for name, fit in fits.items()},
        "squares": {name: {term: ratio for term, ratio, _ in fit.squares} for name, fit in fits.items()},
        "freedom": {term: freedom for term, _, freedom in fits["location"].squares},
        "kurtosis": kurtosis,
        "direct_apart_sd": apart,
        "shape_differs": [cell for cell, sd in apart.items() if abs(sd) > _FAR_APART],
        "notes": list(_notes(counts, fits["location"], from_data)),
    }


def _notes(counts: Counts, location: ChannelFit, from_data: bool) -> Iterator[str]:
    if len(counts.cells) == 1:
        yield "one cell: nothing to compare it with"
    if not any(name.startswith("within") for name, _, _ in location.squares):
        yield "no repeated wears: how wears of one person differ rests on the prior"
    if not location.components:
        yield "no ties: differences between cells rest partly on who chose which"
    if not from_data:
        yield "no record of the readings' shape: kurtosis is the seal version's constant"
