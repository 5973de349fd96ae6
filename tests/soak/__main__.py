"""`python -m tests.soak --minutes 120`: mixed traffic at twice the sustainable rate; what grows, how slow it gets."""

import signal
import sys
import time
from pathlib import Path
from typing import Annotated

import typer

from tests.soak.soak import soak

LONGEST_MINUTES = 240


def main(
    minutes: Annotated[float, typer.Option(max=LONGEST_MINUTES)] = 10,
    people: int = 40,
    editions: int = 3,
    seed: int = 1,
    json: Annotated[Path | None, typer.Option(help="also write the outcome there")] = None,
) -> None:
    """Ends with 1 where memory, connections or queue grew by more than 15 %, or answers were not as they should be."""
    began = time.monotonic()
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # so that everything it started is stopped

    def say(line: str) -> None:
        print(f"{time.monotonic() - began:7.0f} s  {line}", flush=True)  # noqa: T201

    seen = soak(minutes, n_people=people, seed=seed, n_editions=editions, say=say)
    print(seen.as_json())  # noqa: T201
    if json is not None:
        json.write_text(seen.as_json() + "\n", encoding="ascii")
    sys.exit(0 if seen.is_steady else 1)


if __name__ == "__main__":
    typer.run(main)
