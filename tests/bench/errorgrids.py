"""What it costs to sort very many pairs into the zones of both error grids."""

import numpy as np

from pooling.errorgrids import clarke_zones, consensus_zones
from tests.bench.runner import bench, ratio

N_PAIRS = 10_000_000


@bench("both error grids at ten million pairs: one numpy pass over the two arrays", bound=30.0)
def error_grids() -> float:
    """A pass is one subtraction of the two arrays into a new one."""
    rng = np.random.default_rng(1)
    reference = rng.uniform(40, 400, N_PAIRS)
    sensor = reference * np.exp(rng.normal(0, 0.15, N_PAIRS))

    def sorted_into_zones() -> None:
        consensus_zones(reference, sensor)
        clarke_zones(reference, sensor)

    return ratio(sorted_into_zones, lambda: sensor - reference, rounds=3)
