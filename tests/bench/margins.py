"""What the margins of a wear's own report cost."""

import numpy as np

from pooling.columns import columns_from
from pooling.record import record_from
from pooling.report.bootstrap import N_DRAWS
from pooling.report.figures import margins
from pooling.simulate import single_wear
from tests.bench.runner import bench, ratio

N_PAIRS = 100


@bench(
    "margins of all seven measures of 100 pairs, 2,000 draws: one mean of as many draws in one numpy pass", bound=15.0
)
def margins_of_a_wear() -> float:
    """The pass draws 2,000 times 100 places, takes the values there, and their mean for each draw."""
    record = record_from(single_wear(np.random.default_rng(1), "thigh.front", "demo-a14", n_pairs=N_PAIRS))
    columns = columns_from(record)
    whole = columns.only(columns.mark == 0)
    values = np.abs(whole.sensor_mg_dl / whole.reference_mg_dl - 1)
    rng = np.random.default_rng(2)

    def one_mean() -> None:
        values[rng.integers(values.size, size=(N_DRAWS, values.size))].mean(axis=1)

    return ratio(lambda: margins(whole, rng), one_mean, rounds=20)
