"""Odd exports by the thousand, of which only clear errors may come: ``python -m tests.fuzz --runs 1000000 --seed 1``.

Engine "hypothesis" draws odd exports as `tests.fuzz.exports` makes them, "atheris" looks for new paths
through the code from the same exports to start with.
"""

import argparse
import random
import sys
import tempfile
import time
from pathlib import Path

import hypothesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

FULL = 1_000_000
A_DRAW = 500  # odd exports an example: drawing one costs more than reading it


def by_hypothesis(runs: int, seed: int) -> None:
    from tests.fuzz.exports import check, corpus, odd_export

    seeds, opened = corpus(), 0

    @hypothesis.seed(seed)
    @settings(
        max_examples=max(runs // A_DRAW, 1),
        database=None,
        deadline=None,
        phases=(Phase.generate, Phase.shrink),
        suppress_health_check=list(HealthCheck),
    )
    @given(st.integers(0, 2**63))
    def read(start: int) -> None:
        nonlocal opened
        for number in range(min(runs, A_DRAW)):
            chance = random.Random(start + number)
            data = odd_export(chance, seeds)
            try:
                opened += check(data, chance)
            except BaseException:
                print(f"input {start + number}: {data[:300]!r}", file=sys.stderr)  # noqa: T201
                raise

    read()
    print(f"{opened:,} of them could be opened")  # noqa: T201


def by_atheris(runs: int, seed: int) -> None:
    import atheris

    with atheris.instrument_imports(include=["pooling.importing"]):
        from tests.fuzz.exports import check, corpus

    with tempfile.TemporaryDirectory() as folder:
        for number, content in enumerate(corpus()):
            (Path(folder) / str(number)).write_bytes(content)
        # What it keeps of the paths it has seen grows by some 20 kB an input; what is looked at does not grow.
        given_to_it = [sys.argv[0], f"-runs={runs}", f"-seed={seed}", "-max_len=20000", "-rss_limit_mb=0", folder]
        atheris.Setup(given_to_it, lambda data: check(data, random.Random(len(data))) and None)
        atheris.Fuzz()


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("--runs", type=int, default=FULL)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--engine", choices=("hypothesis", "atheris"), default="hypothesis")
    told = parser.parse_args()
    begun = time.monotonic()
    {"hypothesis": by_hypothesis, "atheris": by_atheris}[told.engine](told.runs, told.seed)
    print(f"{told.runs:,} odd exports, seed {told.seed}: clear errors only, {time.monotonic() - begun:.0f} s")  # noqa: T201


if __name__ == "__main__":
    main()
