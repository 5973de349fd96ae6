"""The distinct cells of a column, each looked at once however long the column is."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray


def distinct(cells: Sequence[str]) -> tuple[NDArray[np.intp], NDArray[Any]]:
    """For each cell the number of its value, shape (n_cells,), and the values, shape (n_values,), as they come up.

    Examples
    --------
    >>> numbers, values = distinct(["LO", "5.4", "LO"])
    >>> numbers.tolist(), values.tolist()
    ([0, 1, 0], ['LO', '5.4'])
    """
    import pandas as pd  # when it is first needed: who never reads an export does not carry it in memory

    return pd.factorize(np.array(cells, dtype=object))
