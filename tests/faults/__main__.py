"""`python -m tests.faults`: the full run with kills. Ends with 1 where anything was lost, counted twice, or differs."""

import signal
import sys
import time
from pathlib import Path
from typing import Annotated

import typer

from tests.faults.machines import Size
from tests.faults.run import Plan, run


def main(
    uploads: int = 10_000,
    editions: int = 20,
    kills: int = 200,
    people: int = 250,
    seed: int = 1,
    json: Annotated[Path | None, typer.Option(help="also write the outcome there")] = None,
    keep: Annotated[bool, typer.Option(help="leave the folder with all logs")] = False,
) -> None:
    """Kill web, worker, sweep, broker and database at random points during uploads and editions."""
    began = time.monotonic()
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # so that everything it started is stopped
    plan = Plan(uploads, editions, kills, people, seed, Size(n_web=2, n_workers=2, processes=1))
    outcome = run(plan, lambda line: print(f"{time.monotonic() - began:7.0f} s  {line}", flush=True), keep=keep)  # noqa: T201
    print(outcome.as_json())  # noqa: T201
    if json is not None:
        json.write_text(outcome.as_json() + "\n", encoding="ascii")
    sys.exit(0 if outcome.is_clean else 1)


if __name__ == "__main__":
    typer.run(main)
