"""The law that an invented community's readings follow, and the truth that follows from it.

A reading of a sensor stands to the fingerstick beside it as exp(y) to 1. The log ratio y of a wear is

    y = location + scale * residual,    scale = exp(log_variance / 2),

where location and log variance are each the sum of the value of the cell (site and sensor model) and of three normal
deviations: of the wearer, of the wearer at that site, and of the wear. Residuals follow Student's t with 5 degrees of
freedom, held within 7 either way and brought to unit variance. On the first day the log variance is larger.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy import stats
from scipy.special import ndtr

from pooling.errors import InvalidInput

FIRST_DAY_MIN = 1440
ELAPSED_STEP_MIN = 5
SHORTEST_PAIRED_WEAR_MIN = 2 * 1440
COMPLETED_FRAC = 0.72
DEGREES_OF_FREEDOM = 5
RESIDUAL_LIMIT = 7.0
N_NODES = 80

Array = NDArray[np.float64]

# Invented, within the range that published comparisons span: upper arm 8 to 12 %, thigh about as the arm, abdomen 9 to
# 13 %, buttock about as the abdomen; nothing usable is published on forearm, chest, calf and lower back.
# Per site: location of the log ratio, and the standard deviation of a reading about its own wear's mean.
SITE_LAW: Mapping[str, tuple[float, float]] = {
    "upper_arm.back": (0.000, 0.100),
    "upper_arm.outer": (-0.005, 0.104),
    "forearm": (-0.020, 0.135),
    "chest": (0.000, 0.125),
    "abdomen.front": (0.010, 0.118),
    "abdomen.flank": (-0.010, 0.122),
    "lower_back": (0.005, 0.124),
    "buttock": (0.010, 0.116),
    "thigh.front": (-0.015, 0.108),
    "thigh.outer": (-0.010, 0.113),
    "calf": (-0.030, 0.140),
}


@dataclass(frozen=True, slots=True)
class SensorModelPlan:
    """An invented sensor model: its slug, life and licensed sites, how common it is, and how it differs."""

    slug: str
    rated_life_days: int
    licensed_sites: tuple[str, ...]
    share: float = 1.0
    location: float = 0.0
    log_variance: float = 0.0


@dataclass(frozen=True, slots=True)
class Spread:
    """Standard deviations of the wearer, of the wearer at one site, and of the wear."""

    person: float
    person_site: float
    wear: float

    @property
    def total(self) -> float:
        """Standard deviation of the three together.

        >>> round(Spread(0.04, 0.02, 0.03).total, 4)
        0.0539
        """
        return float(np.sqrt(self.person**2 + self.person_site**2 + self.wear**2))


@dataclass(frozen=True, slots=True)
class Effects:
    """A deviation from the cell: of a wearer, of a wearer at a site, or of a wear; or their sum."""

    location: float
    log_variance: float

    def __add__(self, other: "Effects") -> "Effects":
        return Effects(self.location + other.location, self.log_variance + other.log_variance)


@dataclass(frozen=True, slots=True)
class CellTruth:
    """What a new wear of this site and model would show on average over all people, in percent of the fingerstick."""

    mard_pct: float
    bias_pct: float


@dataclass(frozen=True)
class Law:
    """Everything that decides the readings of a community."""

    cells: Mapping[tuple[str, str], Effects]
    rated_life_days: Mapping[str, int]
    location: Spread = Spread(0.04, 0.02, 0.03)
    log_variance: Spread = Spread(0.35, 0.15, 0.25)
    first_day_log_variance: float = 0.3

    def cell(self, site: str, sensor_model: str) -> Effects:
        """Location and log variance of a site and sensor model; `InvalidInput` if the law has no such cell."""
        try:
            return self.cells[site, sensor_model]
        except KeyError:
            raise InvalidInput(f"this community has no {sensor_model} at {site}") from None

    def truth(self, site: str, sensor_model: str) -> CellTruth:
        """Population MARD and bias of a cell, by quadrature.

        Claim: the mean over new wears of new wearers, each wear counting once, of the mean over its readings of
        |sensor / fingerstick - 1| and of sensor / fingerstick - 1.

        Assumptions: readings are spread evenly over the time worn; display rounding (half a mg/dL) and readings beyond
        the display's range (well under 1 in 500) are left out.

        Returns
        -------
        CellTruth
            In percent, 0 to 100 and beyond.

        Raises
        ------
        InvalidInput
            If the law has no such cell.

        Notes
        -----
        Given the residual and the scale, the log ratio is normal and its absolute expectation has a closed form; the
        two remaining integrals are sums: Gauss-Hermite over the log variance, Gauss-Legendre over the residual.
        """
        cell = self.cell(site, sensor_model)
        first_day = first_day_frac(self.rated_life_days[sensor_model])
        normal, normal_weight = np.polynomial.hermite_e.hermegauss(N_NODES)
        normal_weight = normal_weight / normal_weight.sum()
        residual, residual_weight = _residual_nodes()
        mard = bias = 0.0
        for extra, part in ((self.first_day_log_variance, first_day), (0.0, 1.0 - first_day)):
            scale = np.exp((cell.log_variance + extra + self.log_variance.total * normal) / 2)
            centre = cell.location + scale[:, None] * residual
            weight = part * normal_weight[:, None] * residual_weight
            mard += float(np.sum(weight * expected_absolute_deviation(centre, self.location.total)))
            bias += float(np.sum(weight * np.expm1(centre + self.location.total**2 / 2)))
        return CellTruth(100 * mard, 100 * bias)

    def log_ratios(
        self, rng: np.random.Generator, cell: Effects, effects: Effects, elapsed_min: NDArray[np.int64]
    ) -> Array:
        """One log ratio for each reading of a wear with these effects, at these minutes after insertion."""
        first_day = np.where(elapsed_min < FIRST_DAY_MIN, self.first_day_log_variance, 0.0)
        whole = cell + effects
        scale = np.exp((whole.log_variance + first_day) / 2)
        residual = np.clip(rng.standard_t(DEGREES_OF_FREEDOM, elapsed_min.size), -RESIDUAL_LIMIT, RESIDUAL_LIMIT)
        return np.asarray(whole.location + scale * residual / residual_sd(), dtype=np.float64)


def draw_law(rng: np.random.Generator, sites: Sequence[str], sensor_models: Sequence[SensorModelPlan]) -> Law:
    """A law for these sites and models: fixed site and model values, and a drawn interplay of the two."""
    cells = {}
    for model in sensor_models:
        for site in sites:
            location, sd = SITE_LAW[site]
            interplay = Effects(rng.normal(0, 0.015), rng.normal(0, 0.12))
            cells[site, model.slug] = (
                Effects(location, 2 * float(np.log(sd))) + Effects(model.location, model.log_variance) + interplay
            )
    return Law(cells, {model.slug: model.rated_life_days for model in sensor_models})


def draw_worn_min(rng: np.random.Generator, rated_life_days: int) -> int:
    """Minutes worn: the whole life with chance COMPLETED_FRAC, else evenly between two days and that life."""
    life = rated_life_days * 1440
    if rng.random() < COMPLETED_FRAC:
        return life
    n_steps = (life - SHORTEST_PAIRED_WEAR_MIN) // ELAPSED_STEP_MIN
    return SHORTEST_PAIRED_WEAR_MIN + ELAPSED_STEP_MIN * int(rng.integers(n_steps))


def first_day_frac(rated_life_days: int) -> float:
    """Expected share of a wear's readings that fall on its first day, under `draw_worn_min`.

    >>> round(first_day_frac(10), 3)
    0.128
    """
    life = rated_life_days * 1440
    first_day = (FIRST_DAY_MIN - 1) // ELAPSED_STEP_MIN
    early = np.arange(SHORTEST_PAIRED_WEAR_MIN, life, ELAPSED_STEP_MIN) // ELAPSED_STEP_MIN
    completed = first_day / (life // ELAPSED_STEP_MIN)
    return float(COMPLETED_FRAC * completed + (1 - COMPLETED_FRAC) * np.mean(first_day / early))


def expected_absolute_deviation(centre: Array, sd: float) -> Array:
    """E|exp(Y) - 1| for a normal Y, element by element.

    Splitting at Y = 0 and completing the square under exp(Y) gives two normal distribution functions.

    Parameters
    ----------
    centre : ndarray of any shape
        Mean of Y.
    sd : float
        Standard deviation of Y, above 0.

    Examples
    --------
    A wide margin to zero leaves the plain log-normal mean:

    >>> value = expected_absolute_deviation(np.array([1.0]), 0.1)
    >>> bool(np.isclose(value[0], np.exp(1.005) - 1))
    True
    """
    grown = np.exp(centre + sd**2 / 2) * (2 * ndtr((centre + sd**2) / sd) - 1)
    return np.asarray(grown - (2 * ndtr(centre / sd) - 1), dtype=np.float64)


def residual_sd() -> float:
    """Standard deviation of Student's t with 5 degrees of freedom held within 7 either way."""
    value, weight = _held_t_nodes()
    return float(np.sqrt(np.sum(weight * value**2)))


def _residual_nodes() -> tuple[Array, Array]:
    value, weight = _held_t_nodes()
    return value / residual_sd(), weight


@cache
def _held_t_nodes() -> tuple[Array, Array]:
    """Nodes and weights: a density between the limits, and a lump of probability on either limit."""
    inner, weight = np.polynomial.legendre.leggauss(N_NODES)
    inside = RESIDUAL_LIMIT * inner
    lump = stats.t.sf(RESIDUAL_LIMIT, DEGREES_OF_FREEDOM)
    nodes = np.concatenate(([-RESIDUAL_LIMIT], inside, [RESIDUAL_LIMIT]))
    weights = np.concatenate(([lump], weight * RESIDUAL_LIMIT * stats.t.pdf(inside, DEGREES_OF_FREEDOM), [lump]))
    return nodes, weights
