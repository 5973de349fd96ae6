"""Worlds that the model does not assume, each broken in one way, and the truth in them.

People choose by lot in all of them, so that what goes wrong is the one thing broken. Magnitudes are invented and large:
what limits lose in a world like these is what they lose at worst.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.signal import lfilter
from scipy.special import ndtr, ndtri
from scipy.stats import qmc
from scipy.stats import t as student

from pooling.hierarchy.closedforms import expected_relative_difference
from tests.calibration.pools import CLIP, TAIL, TAIL_POINTS, TAIL_SD, Floats, Pool, Stratum, Truth, Wear

LIFE_DAYS = 14
FEWEST = 8
BAD_ARD = 0.11
"""A wear with a larger mean difference than this sends its wearer elsewhere."""
SEEN_ARD, OFF_CALM, OFF_SEEN = 0.20, 0.01, 0.15
"""A daily check that reads further off than this takes a sensor off with the last probability instead of the first."""
_TAIL_HALF = TAIL_POINTS[:2000].reshape(50, 40).mean(axis=1) / TAIL_SD
_TAIL_FEW = np.concatenate([_TAIL_HALF, -_TAIL_HALF[::-1]])
"""The tail's law by 100 means of equal shares of it."""
_NORMAL_FEW = ndtri((np.arange(100) + 0.5) / 100)
_N_WEARS, _N_PEOPLE = 2000, 256


@dataclass(frozen=True)
class Laws:
    """What is broken; everything at 0 breaks nothing.

    likeness: correlation of a reading's error with the one before. drift_sd: how far readings of a wear have drifted at
    the end of its life (log units, either way), with removal on a bad check. meter_sd: sd of each person's meter.
    carried: part of the last wear's own error that goes on into the next; unrested: log variance added when the site is
    the last wear's. moves_on: after a bad wear a person takes another site, otherwise stays.
    """

    likeness: float = 0.0
    drift_sd: float = 0.0
    meter_sd: float = 0.0
    carried: float = 0.0
    unrested: float = 0.0
    moves_on: bool = False


@dataclass
class _Body:
    """One person: own deviations, at every cell, and what the last wear left."""

    location: Floats
    spread: Floats
    meter: float
    last_cell: int = -1
    last_error: float = 0.0

    @classmethod
    def born(cls, rng: np.random.Generator, truth: Truth, laws: Laws) -> "_Body":
        ta, tb, _ = truth.location_sds
        ou, ov, _ = truth.spread_sds
        n = len(truth.location)
        return cls(
            truth.location + rng.normal(0, ta) + rng.normal(0, tb, n),
            truth.log_variance + rng.normal(0, ou) + rng.normal(0, ov, n),
            float(rng.normal(0, laws.meter_sd)),
        )


def simulate(rng: np.random.Generator, laws: Laws, *, n_people: int, n_cells: int) -> Pool:
    """Draw a pool of heavy-tailed readings; each person's wears stand in the order of time."""
    truth = Truth.drawn(n_cells, rng)
    pool = Pool(truth, n_people)
    for person in range(n_people):
        body = _Body.born(rng, truth, laws)
        cells = rng.choice(n_cells, min(1 + rng.binomial(2, 0.4), n_cells), replace=False)
        visits = rng.permutation(np.repeat(cells, 1 + rng.poisson(1.0, len(cells))))
        cell = int(visits[0])
        for planned in visits:
            cell = cell if laws.moves_on else int(planned)
            stratum = Stratum.of(_readings(rng, truth, laws, body, cell))
            pool.wears.append(Wear(person, cell, stratum))
            if laws.moves_on and stratum.a1 / stratum.n_pairs > BAD_ARD:
                cell = (cell + int(rng.integers(1, n_cells))) % n_cells
    return pool


def _readings(rng: np.random.Generator, truth: Truth, laws: Laws, body: _Body, cell: int) -> Floats:
    error = laws.carried * body.last_error + rng.normal(0, truth.location_sds[2])
    log_variance = body.spread[cell] + rng.normal(0, truth.spread_sds[2])
    log_variance += laws.unrested * (cell == body.last_cell)
    body.last_cell, body.last_error = cell, error
    location, sd = body.location[cell] + error + body.meter, float(np.exp(0.5 * log_variance))
    n = int(np.clip(np.exp(rng.normal(3.2, 0.9)), FEWEST, 200))
    if not laws.drift_sd:
        return location + sd * _residuals(rng, n, laws.likeness)
    slope = float(rng.normal(0, laws.drift_sd))
    worn = int(_days_worn(rng, np.array([location]), np.array([sd]), np.array([slope]))[0])
    n = max(FEWEST, round(n * worn / LIFE_DAYS))
    when = worn / LIFE_DAYS * (np.arange(n) + rng.random()) / n
    return location + slope * when + sd * _residuals(rng, n, 0.0)


def _residuals(rng: np.random.Generator, n: int, likeness: float) -> Floats:
    """Heavy-tailed noise of variance 1; with likeness each resembles the one before (a normal copula)."""
    if not likeness:
        return np.clip(rng.standard_t(TAIL, n), -CLIP, CLIP) / TAIL_SD
    shocks = rng.standard_normal(n) * np.sqrt(1 - likeness**2)
    shocks[0] /= np.sqrt(1 - likeness**2)
    return np.clip(student.ppf(ndtr(lfilter([1.0], [1.0, -likeness], shocks)), TAIL), -CLIP, CLIP) / TAIL_SD


def _days_worn(rng: np.random.Generator, location: Floats, sd: Floats, slope: Floats) -> Floats:
    """Whole days on the skin: a daily check that reads far off often ends a wear."""
    day = (np.arange(LIFE_DAYS) + 0.5) / LIFE_DAYS
    residual = np.clip(rng.standard_t(TAIL, (len(location), LIFE_DAYS)), -CLIP, CLIP) / TAIL_SD
    seen = np.abs(np.expm1(location[:, None] + slope[:, None] * day + sd[:, None] * residual)) > SEEN_ARD
    off = rng.random(seen.shape) < np.where(seen, OFF_SEEN, OFF_CALM)
    return np.where(off.any(axis=1), off.argmax(axis=1) + 1, LIFE_DAYS)


def plain_truths(truth: Truth) -> dict[str, Floats]:
    """Truth of every figure, by cell, in points: what a pool of the model's own world has."""
    low, high = people_ends(truth)
    found = {"site MARD": truth.mard(), "15/15": truth.rate(0.15), "20/20": truth.rate(0.20)}
    return {name: 100 * values for name, values in (found | {"people low": low, "people high": high}).items()}


def truths(rng: np.random.Generator, truth: Truth, laws: Laws) -> dict[str, Floats]:
    """The same in a broken world, where "in truth" names the figure that a reader may take it for."""
    if laws.drift_sd:
        worn, planned = _drifting(rng, truth, laws)
        return {"site MARD": 100 * worn, "in truth": 100 * planned}
    if laws.meter_sd:
        ta, tb, tc = truth.location_sds
        seen = replace(truth, location_sds=(float(np.hypot(ta, laws.meter_sd)), tb, tc))
        return plain_truths(seen) | {"in truth": 100 * truth.mard()}
    return plain_truths(truth)


def _drifting(rng: np.random.Generator, truth: Truth, laws: Laws) -> tuple[Floats, Floats]:
    """Mean over wears of the expected difference on the days worn, and had every sensor stayed on, per cell."""
    found = []
    day = (np.arange(LIFE_DAYS) + 0.5) / LIFE_DAYS
    for centre, log_variance in zip(truth.location, truth.log_variance, strict=True):
        location = centre + np.linalg.norm(truth.location_sds) * rng.standard_normal(_N_WEARS)
        spread = log_variance + np.linalg.norm(truth.spread_sds) * rng.standard_normal(_N_WEARS)
        slope, sd = rng.normal(0, laws.drift_sd, _N_WEARS), np.exp(0.5 * spread)
        worn = _days_worn(rng, location, sd, slope)
        at = location[:, None] + slope[:, None] * day
        expected = np.abs(np.expm1(at[:, :, None] + sd[:, None, None] * _TAIL_FEW)).mean(axis=2)
        on = np.arange(LIFE_DAYS) < worn[:, None]
        found.append((((expected * on).sum(axis=1) / worn).mean(), expected.mean()))
    worn_days, planned = np.array(found).T
    return worn_days, planned


def people_ends(truth: Truth) -> tuple[Floats, Floats]:
    """MARD that 10 and 90 of 100 people stay under at each cell, wears and readings integrated (fractions)."""
    each = person_mards(truth)
    low, high = np.quantile(each, (0.1, 0.9), axis=1)
    return low, high


def person_mards(truth: Truth) -> Floats:
    """MARD of each of 256 quasi-random people at each cell (cells x people, fractions), one's own over many wears."""
    points = ndtri(np.clip(qmc.Sobol(2, rng=0).random(_N_PEOPLE), 1e-9, 1 - 1e-9))
    ta, tb, tc = truth.location_sds
    ou, ov, ot = truth.spread_sds
    nodes, weights = np.polynomial.hermite_e.hermegauss(5)
    location = truth.location[:, None] + np.hypot(ta, tb) * points[:, 0]
    spread = truth.log_variance[:, None] + np.hypot(ou, ov) * points[:, 1]
    sds = np.exp(0.5 * (spread[:, :, None] + ot * nodes))
    means = location[:, :, None, None] + sds[:, :, :, None] * (_TAIL_FEW if truth.heavy else _NORMAL_FEW)
    return expected_relative_difference(means, tc).mean(axis=3) @ weights / weights.sum()
