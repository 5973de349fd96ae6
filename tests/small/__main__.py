"""`python -m tests.small`: the service of `up --small` on one processor, and whether it stays under 1 GiB."""

import signal
import sys
import time
from pathlib import Path
from typing import Annotated

import typer

from tests.small.small import one_processor, run


def main(
    uploads: int = 400,
    people: int = 120,
    seed: int = 1,
    options: Annotated[str, typer.Option(help="those of `up`")] = "--small",
    json: Annotated[Path | None, typer.Option(help="also write the outcome there")] = None,
) -> None:
    """Ends with 1 where all processes together took 1 GiB or more, or no edition came out."""
    began = time.monotonic()
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # so that everything it started is stopped
    one_processor()

    def say(line: str) -> None:
        print(f"{time.monotonic() - began:7.0f} s  {line}", flush=True)  # noqa: T201

    seen = run(uploads, people, seed=seed, options=tuple(options.split()), say=say)
    print(seen.as_json())  # noqa: T201
    if json is not None:
        json.write_text(seen.as_json() + "\n", encoding="ascii")
    sys.exit(0 if seen.fits else 1)


if __name__ == "__main__":
    typer.run(main)
