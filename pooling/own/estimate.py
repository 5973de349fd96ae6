"""The own estimate: what to expect of a new wear at a site, from a person's own wears and from the pool together.

Claim: the law of the next wear's MARD, bias and share within 15/15 of this person at this site. Assumptions: the model
of the pool (docs/METHODS.md, section 3) with its published, rounded spreads taken as known; a person's wears are
exchangeable; readings of a wear are independent. Location and dispersion are conditioned each by itself, exactly, and
put together in the closed forms of the pool, moved so that for a cell that the pool tells the answer without own wears
is the pool's own row.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from math import exp, log
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, logit, ndtri
from scipy.stats import qmc

from pooling.hierarchy.closedforms import Mixture, expected_relative_difference, kurtosis_scales
from pooling.hierarchy.combination import shift_to_level
from pooling.own.conditional import Normal, Reading, person_at
from pooling.own.prior import Level, Prior
from pooling.sealing.version import FEWEST_PAIRS, log_chi_square_moments
from pooling.starter import Spreads

Floats = NDArray[np.float64]
CellKey = tuple[str, str | None]

_LOG2_POINTS = 10
_BAND_15 = 0.15
_LARGEST_LOG_VARIANCE = 50.0


class StratumLike(Protocol):
    @property
    def n_pairs(self) -> int: ...
    @property
    def m(self) -> float: ...
    @property
    def s(self) -> float: ...


@dataclass(frozen=True, slots=True, repr=False)
class OwnWear:
    """One own wear, as far as it is needed: where, and the sums of its log ratios."""

    site: str
    sensor_model: str
    n_pairs: int
    mean_log: float
    sum_squares: float

    @classmethod
    def of(cls, site: str, sensor_model: str, stratum: StratumLike) -> "OwnWear":
        return cls(site, sensor_model, stratum.n_pairs, stratum.m, stratum.s)

    @property
    def counts(self) -> bool:
        """Eight pairs that are not all alike, as in the pool."""
        return self.n_pairs >= FEWEST_PAIRS and self.sum_squares > 0


@dataclass(frozen=True, slots=True)
class Predicted:
    """Equally likely points of what is asked for: this person over many wears there, and one new wear.

    `own_share_frac` says how much of what was unknown of this person's MARD (and bias) the own wears have settled.
    """

    person_mard: Floats
    person_bias: Floats
    person_within_15: Floats
    wear_mard: Floats
    wear_bias: Floats
    own_share_frac: tuple[float, float]
    level: Level


def predict(wears: Sequence[OwnWear], prior: Prior, *, site: str, sensor_model: str | None) -> Predicted:
    """Condition the pool's law on a person's own wears and look at one cell.

    Parameters
    ----------
    wears
        All of one person's wears, at any site; `usable` says which of them enter.
    prior
        From an edition, or from published studies.
    site, sensor_model
        Where the new wear would be; None looks over all models.

    Returns
    -------
    Predicted
        Fractions; 1,024 points, always the same ones (unscrambled Sobol): the same wears get the same answer.
    """
    used = usable(wears, prior, sensor_model)
    here = (site, sensor_model)
    keys = [(wear.site, wear.sensor_model if sensor_model else None) for wear in used]
    levels = {key: prior.level(*key) for key in {here, *keys}}
    location, dispersion = (_Channel.of(name, levels, prior) for name in ("location", "dispersion"))
    spreads = [_Seen(key, *_spread(wear, prior.kurtosis)) for key, wear in zip(keys, used, strict=True)]
    centres = [
        _Seen(seen.key, wear.mean_log, dispersion.reading_variance(seen, spreads) / wear.n_pairs)
        for seen, wear in zip(spreads, used, strict=True)
    ]
    told = _Law(location.told_at(here), dispersion.told_at(here), prior)
    before = _Law(location.person_at(here, []), dispersion.person_at(here, []), prior)
    after = _Law(location.person_at(here, centres), dispersion.person_at(here, spreads), prior)
    level = levels[here]
    anchor = level.mard_pct / 100 / told.person_mard.mean()
    return Predicted(
        person_mard=anchor * after.person_mard,
        person_bias=np.expm1(after.person_location),
        person_within_15=_moved(after.person_within_15, told.person_within_15, level.within_15_15_pct),
        wear_mard=anchor * after.wear_mard,
        wear_bias=np.expm1(after.wear_location),
        own_share_frac=(
            _settled(np.log(before.person_mard), np.log(after.person_mard)),
            _settled(before.person_location, after.person_location),
        ),
        level=level,
    )


def usable(wears: Sequence[OwnWear], prior: Prior, sensor_model: str | None) -> list[OwnWear]:
    """Wears that tell something: with enough pairs and, before an edition knows the sensors, of the one asked."""
    known = prior.basis == "edition" or sensor_model is None
    return [wear for wear in wears if wear.counts and (known or wear.sensor_model == sensor_model)]


@dataclass(frozen=True, slots=True)
class _Seen:
    """What one wear shows in one channel, and its sampling variance."""

    key: CellKey
    value: float
    noise: float


@dataclass(frozen=True, slots=True)
class _Channel:
    """One channel of the law: spreads, and what is expected of everybody at each cell."""

    spreads: Spreads
    shared_variance: float
    expected: Mapping[CellKey, Normal]
    off: Mapping[CellKey, float]
    """Of the variance of what is expected, the part by which a cell may lie off the one that is told."""

    @classmethod
    def of(cls, name: str, levels: Mapping[CellKey, Level], prior: Prior) -> "_Channel":
        def normal(level: Level) -> Normal:
            if name == "location":
                return Normal(level.location, level.location_sd**2 + level.off[name])
            return Normal(level.log_variance, level.log_variance_sd**2 + level.off[name])

        spreads = prior.spreads[name]
        return cls(
            spreads,
            spreads.person**2 + prior.sensor_variance[name],
            {key: normal(level) for key, level in levels.items()},
            {key: level.off[name] for key, level in levels.items()},
        )

    def told_at(self, cell: CellKey) -> Normal:
        """Level of a new person at the cell that is told in this one's place: what the pool's row speaks of."""
        anybody = self.person_at(cell, [])
        return Normal(anybody.mean, anybody.variance - self.off[cell])

    def person_at(self, cell: CellKey, seen: Sequence[_Seen]) -> Normal:
        """The person's own level at a cell."""
        above = person_at(
            cell,
            [Reading(one.key, one.value - self.expected[one.key].mean, one.noise) for one in seen],
            person_variance=self.shared_variance,
            unit_variance={key: self.spreads.person_cell**2 + own.variance for key, own in self.expected.items()},
            wear_variance=self.spreads.wear**2,
        )
        return Normal(self.expected[cell].mean + above.mean, above.variance)

    def reading_variance(self, wear: _Seen, seen: Sequence[_Seen]) -> float:
        """Variance of one reading of a wear, from the log variances seen and drawn towards them all.

        A wear's own variance would give the wears that happen to look steady too much weight.
        """
        middle = self.person_at(wear.key, seen).mean
        between = self.spreads.wear**2
        return exp(middle + between / (between + wear.noise) * (wear.value - middle))


def _spread(wear: OwnWear, kurtosis: float) -> tuple[float, float]:
    """Log variance of a wear's readings, freed of its bias in small samples, and its sampling variance."""
    bias, noise = log_chi_square_moments(wear.n_pairs)
    value = log(wear.sum_squares / (wear.n_pairs - 1)) - bias + kurtosis / (2 * wear.n_pairs)
    return value, noise + kurtosis / wear.n_pairs


def _moved(shares: Floats, before: Floats, level_pct: float | None) -> Floats:
    """Shares shifted on the logit scale by what brings those of the pool to what the pool's row says."""
    if level_pct is None:
        return shares
    weights = np.full(len(before), 1 / len(before))
    shift = shift_to_level(before[None, :], np.array([level_pct / 100]), weights)[0]
    return np.asarray(expit(logit(np.clip(shares, 1e-9, 1 - 1e-9)) + shift))


def _settled(before: Floats, after: Floats) -> float:
    """Share of the variance that the own wears took away."""
    return float(np.clip(1 - after.var() / before.var(), 0.0, 1.0))


class _Law:
    """Points of a person's location and log variance at a cell, and what follows from them."""

    def __init__(self, centre: Normal, spread: Normal, prior: Prior) -> None:
        person_z, spread_z, wear_z, wear_spread_z = _points()
        location, dispersion = prior.spreads["location"], prior.spreads["dispersion"]
        self.person_location = centre.mean + centre.variance**0.5 * person_z
        log_variance = spread.mean + spread.variance**0.5 * spread_z
        self.wear_location = self.person_location + location.wear * wear_z
        person = Mixture(
            self.person_location,
            np.array(location.wear**2),
            log_variance,
            np.array(dispersion.wear**2),
            prior.kurtosis,
        )
        self.person_mard = person.mean_relative_difference()
        self.person_within_15 = person.share_within(_BAND_15)
        sds = np.exp(0.5 * np.minimum(log_variance + dispersion.wear * wear_spread_z, _LARGEST_LOG_VARIANCE))
        self.wear_mard = sum(
            share * expected_relative_difference(self.wear_location, scale**0.5 * sds)
            for scale, share in zip(*kurtosis_scales(prior.kurtosis), strict=True)
        )


@cache
def _points() -> Floats:
    """Standard normal points in four dimensions, the first of the Sobol sequence moved off the corner."""
    points = qmc.Sobol(4, scramble=False).random_base2(_LOG2_POINTS) + 0.5 / 2**_LOG2_POINTS
    return np.ascontiguousarray(ndtri(points).T)
