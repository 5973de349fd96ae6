"""What the work costs, as ratios: ``python -m tests.bench [--json FILE] [NAME …]``. Exit code 1 when a bound is missed.

One thread of BLAS, whatever the environment says: ratios of several threads say nothing about the code.
"""

import argparse
import os
import sys
from collections.abc import Callable
from pathlib import Path

for variable in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[variable] = "1"

from tests.bench.runner import BENCHES, Bench, as_json, in_own_process, load, run  # noqa: E402
from tests.referee import lme4  # noqa: E402

BESIDE_LME4 = ("edition_beside_lme4", "large_referee_beside_lme4", "referee_beside_lme4")


def main(arguments: list[str], *, measured: Callable[[Bench], float] = in_own_process) -> int:
    """Run the benches named, or all that are not left for their names."""
    load()
    parser = argparse.ArgumentParser(prog="deploy/bench", description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"one of {', '.join(sorted(BENCHES))}")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the results there as well")
    parser.add_argument("--lme4", action="store_true", help="beside lme4 as well, where this machine has R with it")
    told = parser.parse_args(arguments)
    if told.lme4 and lme4.is_there():
        told.names += BESIDE_LME4
    elif told.lme4:
        print(f"{' and '.join(BESIDE_LME4)} were not run: there is no Rscript with lme4 on this machine")  # noqa: T201
    if unknown := set(told.names) - set(BENCHES):
        parser.error(f"no such bench: {', '.join(sorted(unknown))}")
    usual = (name for name, one in BENCHES.items() if not one.only_by_name)
    chosen = [BENCHES[name] for name in sorted(told.names or usual)]
    results = run(chosen, lambda line: print(line, flush=True), measured=measured)  # noqa: T201
    if told.json is not None:
        told.json.write_text(as_json(results), encoding="utf-8")
    return 0 if all(result.is_within for result in results) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
