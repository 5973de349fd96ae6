"""False alarms and hits of every finding, as in docs/METHODS.md: ``python -m tests.findings --seed 2026``."""

import argparse
import sys

import numpy as np

from tests.findings.queue import queues
from tests.findings.study import as_markdown, clocks, study


def main() -> None:
    """Read the arguments, run, print."""
    parser = argparse.ArgumentParser(prog="python -m tests.findings", description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--records", type=int, default=3000, help="good records")
    parser.add_argument("--exports", type=int, default=600, help="good pairs of exports")
    parser.add_argument("--planted", type=int, default=200, help="wears with each fault")
    parser.add_argument("--queues", type=int, help="in place of all that: so many queues of 40 wears, ten with a fault")
    told = parser.parse_args()
    rng = np.random.default_rng(told.seed)
    if told.queues:
        sys.stdout.write(f"{queues(rng, told.queues)}\n")
        return
    rows = study(rng, n_records=told.records, n_exports=told.exports, n_planted=told.planted)
    sys.stdout.write(f"{as_markdown(rows)}\n\n{clocks(rng, told.planted)}\n")


if __name__ == "__main__":
    main()
