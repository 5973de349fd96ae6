import subprocess
import sys

import numpy as np

from pooling.importing.distinct import distinct

CELLS = ["", "5.4", "LO", "5.4", "", "5,4"]


def test_each_value_stands_once_and_every_cell_finds_its_own():
    numbers, values = distinct(CELLS)
    assert values.tolist() == ["", "5.4", "LO", "5,4"]
    assert values[numbers].tolist() == CELLS
    assert distinct([])[0].shape == np.shape([])


def test_nothing_is_loaded_for_it_before_a_column_is_read():
    ask = (
        "import sys, pooling.importing, pooling.preparation, pooling.edition; early = 'pandas' in sys.modules;"
        "from pooling.importing.distinct import distinct; distinct(['1']); print(early, 'pandas' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True)
    assert done.stdout == "False True\n"
