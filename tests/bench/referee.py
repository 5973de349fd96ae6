"""What the exact fit on single wears costs, the referee: beside other software, and as wears grow in number."""

import time
import tracemalloc
import warnings
from math import log
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pooling.hierarchy.reml import reml
from tests.bench.runner import bench
from tests.referee import lme4

if TYPE_CHECKING:
    import pandas as pd

N_CELLS, N_READINGS = 5, 30
SDS = (0.05, 0.03, 0.04, 0.1)
"""Of people, of a person at a site, of wears and of readings, on the log scale."""
SIZES = (5_000, 50_000, 500_000)

Columns = tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.float64], NDArray[np.int64], NDArray[np.int64]]


def wears(n_wears: int, *, per_person: int = 4) -> Columns:
    """Mean, number of readings, centred sum of squares, person and cell of each wear."""
    rng = np.random.default_rng(1)
    person = np.arange(n_wears) // per_person
    cell = rng.integers(N_CELLS, size=n_wears)
    at_site = rng.normal(0, SDS[1], (int(person[-1]) + 1, N_CELLS))[person, cell]
    effect = rng.normal(0, SDS[0], int(person[-1]) + 1)[person] + at_site + rng.normal(0, SDS[2], n_wears)
    mean = 0.03 * cell + effect + rng.normal(0, SDS[3] / N_READINGS**0.5, n_wears)
    centred_ss = SDS[3] ** 2 * rng.chisquare(N_READINGS - 1, n_wears)
    return mean, np.full(n_wears, N_READINGS), centred_ss, person, cell


def _fastest(columns: Columns, rounds: int) -> float:
    seconds = []
    for _ in range(rounds):
        start = time.process_time()
        reml(*columns)
        seconds.append(time.process_time() - start)
    return min(seconds)


@bench("exact fit of 5,000, 50,000 and 500,000 wears: the power of the number that its time grows with", bound=1.10)
def growth_of_the_referee() -> float:
    """Slope of least squares through the logarithms."""
    seconds = [_fastest(wears(size), rounds) for size, rounds in zip(SIZES, (9, 4, 2), strict=True)]
    return float(np.polyfit([log(size) for size in SIZES], [log(value) for value in seconds], 1)[0])


@bench("memory of the exact fit of 500,000 wears at its most, beyond the columns: bytes a wear", bound=200.0)
def memory_of_the_referee() -> float:
    """As numpy and Python ask for it."""
    columns = wears(SIZES[-1])
    tracemalloc.start()
    reml(*columns)
    return tracemalloc.get_traced_memory()[1] / SIZES[-1]


@bench("exact fit of 5,000 wears: statsmodels MixedLM on the same 150,000 readings", bound=1 / 400, only_by_name=True)
def referee_beside_other_software(n_wears: int = 5_000) -> float:
    """Left for its name: the other software takes minutes, its time growing with people."""
    columns = wears(n_wears)
    return _fastest(columns, 9) / statsmodels_seconds(columns)


@bench("exact fit of 5,000 wears: lme4 on the same 150,000 readings", bound=1 / 200, only_by_name=True)
def referee_beside_lme4(n_wears: int = 5_000) -> float:
    """Wants R; `--lme4` looks whether it is there."""
    columns = wears(n_wears)
    return _fastest(columns, 9) / lme4.fitted(readings(columns), control="")["seconds"]


@bench("exact fit of 50,000 wears: lme4 on the same 1,500,000 readings", bound=1 / 200, only_by_name=True)
def large_referee_beside_lme4() -> float:
    """As `referee_beside_lme4`, in two minutes."""
    return referee_beside_lme4(50_000)


def readings(columns: Columns) -> "pd.DataFrame":
    """Single readings that have these wears' means and squares."""
    import pandas as pd

    mean, n, centred_ss, person, cell = columns
    noise = np.random.default_rng(2).normal(size=(mean.size, N_READINGS))
    noise -= noise.mean(axis=1, keepdims=True)
    noise *= np.sqrt(centred_ss / (noise**2).sum(axis=1))[:, None]
    wear = np.repeat(np.arange(mean.size), n)
    return pd.DataFrame(
        {"y": (mean[:, None] + noise).ravel(), "wear": wear, "person": person[wear], "cell": cell[wear]}
    )


def statsmodels_seconds(columns: Columns) -> float:
    """Four levels as in `tests/pooling/hierarchy/test_reml.py`, by the optimiser that finds the optimum there."""
    import statsmodels.formula.api as smf
    from statsmodels.tools.sm_exceptions import ConvergenceWarning

    raw = readings(columns)
    raw["unit"] = raw["cell"]
    start = time.process_time()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ConvergenceWarning)
        levels = {level: f"0 + C({level})" for level in ("unit", "wear")}
        smf.mixedlm("y ~ 0 + C(cell)", raw, groups="person", vc_formula=levels, re_formula="1").fit(
            reml=True, method="powell", maxiter=2000, ftol=1e-10
        )
    return time.process_time() - start
