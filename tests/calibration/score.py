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

    def add(self, estimates: list[Estimate], truth: Floats, plain: Floats | None = None) -> None:
        """Score one pool: estimates and truth in points, plain the estimate from individual means, if any."""
        lower, median, upper = np.array([(e.lower, e.median, e.upper) for e in estimates]).T
        self.hits.append((lower <= truth) & (truth <= upper))
        self.errors.append(median - truth)
        if plain is not None:
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
        own = _root_mean_square(self.errors)
        bias = float(np.concatenate(self.errors).mean())
        line = f"{name:<24} c95 {cover:.3f} ± {error:.3f}   RMSE {own:.3f}   bias {bias:+.3f}"
        if not self.plain:
            return line
        plain = _root_mean_square(self.plain)
        return f"{line}   plain means {plain:.3f}   ratio {own / plain:.2f}"


def _root_mean_square(parts: list[Floats]) -> float:
    return float(np.sqrt((np.concatenate(parts) ** 2).mean()))
