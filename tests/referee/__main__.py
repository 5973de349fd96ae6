"""How far the individual-level fit lies from the joint sampler: ``python -m tests.referee --pools 20 --seed 1``."""

import argparse
import sys
from dataclasses import dataclass

import numpy as np

from tests.calibration.pools import Floats, simulate
from tests.referee.individual import Wears, fit_individual
from tests.referee.joint import sample_jointly


@dataclass(frozen=True)
class Apart:
    """Per cell: distance of medians in posterior sds, and ratio of the widths of 95 % intervals."""

    medians: Floats
    widths: Floats

    @classmethod
    def of_pool(cls, seed: int, index: int, *, steps: int = 300) -> "Apart":
        """Compare both on one pool of normal readings: 16 to 40 people at four sites, who choose by accuracy."""
        rng = np.random.default_rng([seed, index])
        pool = simulate(rng, n_people=int(rng.integers(16, 41)), n_cells=4, heavy=False)
        wears = Wears.of(pool.wears, sorted({wear.cell for wear in pool.wears}))
        ours = fit_individual(wears, rng, kurtosis=0.0).composite
        theirs = sample_jointly(wears, rng, steps=steps)
        medians = (np.median(ours, axis=0) - np.median(theirs, axis=0)) / theirs.std(axis=0)
        widths = [np.subtract(*np.quantile(draws, (0.975, 0.025), axis=0)) for draws in (ours, theirs)]
        return cls(medians, widths[0] / widths[1])


def main() -> None:
    """Run pools and print the largest and the usual distance."""
    parser = argparse.ArgumentParser(prog="python -m tests.referee", description=__doc__)
    parser.add_argument("--pools", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    found = [Apart.of_pool(arguments.seed, index) for index in range(arguments.pools)]
    medians, widths = (
        np.abs(np.concatenate(part)) for part in zip(*((a.medians, a.widths) for a in found), strict=True)
    )
    sys.stdout.write(
        f"{arguments.pools} pools: medians apart by {np.median(medians):.3f} posterior sds (median), "
        f"{medians.max():.3f} (most); widths {np.median(widths):.3f} times (median), "
        f"{widths.min():.3f} to {widths.max():.3f}\n"
    )


if __name__ == "__main__":
    main()
