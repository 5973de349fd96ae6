"""What a fit returns."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Estimate:
    """Posterior median with the limits of the 95 % interval."""

    median: float
    lower: float
    upper: float

    @classmethod
    def of(cls, draws: NDArray[np.float64]) -> "Estimate":
        """Summarise draws by quantiles: means would follow a single absurd draw."""
        lower, median, upper = np.quantile(draws, (0.025, 0.5, 0.975))
        return cls(float(median), float(lower), float(upper))


@dataclass(frozen=True, slots=True)
class CellFit:
    """One row: a cell (site or region, and sensor model), or a site over its models (sensor_model None)."""

    place: str
    sensor_model: str | None
    n_people: int
    n_wears: int
    n_pairs: int
    mard_pct: Estimate
    bias_pct: Estimate
    within_15_15_pct: Estimate
    within_20_20_pct: Estimate
    people_range_pct: tuple[float, float]
    """MARD that 80 of 100 people lie between."""
    location: float
    log_variance: float
    reading_sd_log: float
    """Sd of the normal law with the same central 80 % as one reading of a new wear's log ratio."""


@dataclass(frozen=True, slots=True)
class Contrast:
    """Difference in MARD between two rows, a minus b, in percentage points.

    tied says that it is estimated from wearers who wore both; otherwise it rests partly on who chose what. overall is
    what the fit says in which cell means of all wearers weigh as much as ties; the same where nothing is tied.
    """

    kind: str
    a: tuple[str, str | None]
    b: tuple[str, str | None]
    difference_mard_points: Estimate
    p_a_better_frac: float
    tied: bool
    overall_mard_points: Estimate


@dataclass(frozen=True)
class PooledFit:
    """Everything an edition may be assembled from."""

    cells: tuple[CellFit, ...]
    sites: tuple[CellFit, ...]
    contrasts: tuple[Contrast, ...]
    spreads: Mapping[str, Mapping[str, Estimate]]
    kurtosis: float
    """Pooled excess kurtosis of a wear's log ratios."""
    diagnostics: Mapping[str, Any]
