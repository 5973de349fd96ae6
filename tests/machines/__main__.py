"""`python -m tests.machines`: three web processes, workers and sweeps against one worker, on this machine."""

import signal
import sys

import typer

from tests.machines.many import compare


def main(uploads: int = 400, people: int = 60, seed: int = 1, times: int = 3) -> None:
    """Compare bytes and time. Ends with 1 where bytes differ."""
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # so that everything it started is stopped
    seen = compare(uploads, people, seed=seed, n_times=times, say=lambda line: print(line, flush=True))  # noqa: T201
    print(seen.as_json())  # noqa: T201
    print(f"one worker takes {seen.speed_up:.2f} times as long as three")  # noqa: T201
    sys.exit(0 if seen.is_same else 1)


if __name__ == "__main__":
    typer.run(main)
