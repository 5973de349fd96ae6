"""Hits and errors of intervals against known truth."""

from dataclasses import dataclass

import numpy as np

from pooling.hierarchy import Estimate
from tests.calibration.pools import Floats


@dataclass
class Score:
    """Hits and errors, pool by pool; the pool is the unit of Monte Carlo error."""

    hits: list[Floats]
    errors: list[Floats]
    plain: list[Floats]

    @classmethod
    def empty(cls) -> "Score":
        """Start a score."""
        return cls([], [], [])

    def add(self, estimates: list[Estimate], truth: Floats, plain: Floats) -> None:
        """Score one pool: estimates and truth in points, plain the estimate from individual means."""
        lower, median, upper = np.array([(e.lower, e.median, e.upper) for e in estimates]).T
        self.hits.append((lower <= truth) & (truth <= upper))
        self.errors.append(median - truth)
        self.plain.append(plain - truth)

    def coverage(self) -> tuple[float, float]:
        """Coverage and its standard error, clustered by pool."""
        sizes = np.array([len(hits) for hits in self.hits])
        sums = np.array([hits.sum() for hits in self.hits])
        mean = sums.sum() / sizes.sum()
        return float(mean), float(np.sqrt(((sums - mean * sizes) ** 2).sum()) / sizes.sum())

    def line(self, name: str) -> str:
        """One line of the table."""
        cover, error = self.coverage()
        own, plain = (float(np.sqrt((np.concatenate(part) ** 2).mean())) for part in (self.errors, self.plain))
        bias = float(np.concatenate(self.errors).mean())
        return (
            f"{name:<22} c95 {cover:.3f} ± {error:.3f}   RMSE {own:.3f}   bias {bias:+.3f}   "
            f"plain means {plain:.3f}   ratio {own / plain:.2f}"
        )
