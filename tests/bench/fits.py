"""What sealing costs, and a fit of the sums when a thousand times as many wears are in them."""

import time
from collections.abc import Sequence
from dataclasses import replace
from math import log

import numpy as np

from pooling.hierarchy import FitRules, fit
from pooling.sealing import SEAL_VERSION_1, Cell, Member, SealedRecords, seal_slot
from tests.bench.runner import bench, ratio
from tests.calibration.pools import simulate

N_CELLS, ROUNDS = 4, 5
CHUNKS = 1_000

Blocks = Sequence[tuple[Cell, Sequence[Member]]]


def _blocks(n_people: int) -> Blocks:
    return simulate(np.random.default_rng(1), n_people=n_people, n_cells=N_CELLS).blocks()


def _seal(blocks: Blocks) -> SealedRecords:
    return seal_slot(blocks, open_places=(), end_bucket=4, version=SEAL_VERSION_1, key=b"of a bench", k=5).records


@bench("fit of sums over 1,000 times as many wears in the same cells: fit of the sums of about 1,000", bound=1.2)
def fit_of_a_million() -> float:
    """The large sums are those of one simulated pool, added up a thousand times: a sum does not show how it came about.

    The time for adding up is the time for bringing slots together, and is not a part of the fit.
    """
    few = _seal(_blocks(500)).merged()
    many = SealedRecords.of(few.records * CHUNKS).merged()
    rules = FitRules()
    assert sum(block.n_wears for block in many.blocks) == CHUNKS * sum(block.n_wears for block in few.blocks)
    return ratio(
        lambda: fit(many, rules, np.random.default_rng(2)),
        lambda: fit(few, rules, np.random.default_rng(2)),
        rounds=ROUNDS,
    )


@bench("sealing of accuracy, as one cut-off does it: microseconds a wear", bound=20.0)
def sealing_of_a_wear() -> float:
    """No ratio, so it says something about this code only beside the same machine's earlier figures."""
    blocks = _blocks(2_000)
    n_wears = sum(len(members) for _, members in blocks)
    return 1e6 * _fastest(blocks) / n_wears


@bench(
    "sealing of 1,000 to 100,000 wears in ever more cells: the power of the number that its time grows with",
    bound=1.1,
)
def growth_of_sealing() -> float:
    """Slope of least squares through the logarithms. Cells grow in number as wears do."""
    points = [_wears_and_seconds(n_pools) for n_pools in (5, 50, 500)]
    wears, seconds = ([log(value) for value in values] for values in zip(*points, strict=True))
    return float(np.polyfit(wears, seconds, 1)[0])


def _wears_and_seconds(n_pools: int) -> tuple[int, float]:
    """Pools of 50 people beside each other, each at sites of its own."""
    rng = np.random.default_rng(1)
    blocks = [
        (replace(cell, model=f"model-{number}"), [replace(one, person=f"{number} {one.person}") for one in members])
        for number in range(n_pools)
        for cell, members in simulate(rng, n_people=50, n_cells=N_CELLS).blocks()
    ]
    return sum(len(members) for _, members in blocks), _fastest(blocks)


def _fastest(blocks: Blocks) -> float:
    seconds = []
    for _ in range(ROUNDS):
        start = time.process_time()
        _seal(blocks)
        seconds.append(time.process_time() - start)
    return min(seconds)
