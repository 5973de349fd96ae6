"""The server of Commonwear."""

import os

# One thread for linear algebra, set before numpy is loaded: the same sums in the same order give the same bytes.
for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")
