"""Attack the service: `python -m tests.redteam [--full] [--goal X] [--seed N]`.

Each goal runs in a process of its own, on a database of its own (PostgreSQL where DATABASE_URL names one), and prints a
line for each attack: what it got out of a naive build and out of ours. The exit code is 1 where ours did not stand.
"""

import argparse
import json
import subprocess
import sys
import time
from dataclasses import asdict
from pathlib import Path

from tests.redteam.registry import Effort, Line, goals

ROOT = Path(__file__).resolve().parents[2]
WIDTHS = (4, 56, 28, 28, 5, 7)
HEAD = ("goal", "attack", "a naive build", "ours", "stood", "seconds")


def attack(letter: str, *, full: bool, seed: int) -> tuple[list[Line], float]:
    """Run one goal in a process of its own; its lines and how long it took."""
    words = [sys.executable, "-m", "tests.redteam", "--here", "--goal", letter, "--seed", str(seed)]
    started = time.monotonic()
    words += ["--full"] if full else []
    run = subprocess.run(words, cwd=ROOT, stdout=subprocess.PIPE, text=True, check=True)
    return [Line(**json.loads(line)) for line in run.stdout.splitlines()], time.monotonic() - started


def row(cells: tuple[str, ...]) -> str:
    return "  ".join(cell.ljust(width) for cell, width in zip(cells, WIDTHS, strict=True)).rstrip()


def main() -> int:
    known = goals()
    parser = argparse.ArgumentParser(prog="python -m tests.redteam", description=__doc__)
    parser.add_argument("--full", action="store_true", help="as hard as the figures in docs/PRIVACY.md were made")
    parser.add_argument("--goal", choices=sorted(known), action="append", help="only this one; may be repeated")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--here", action="store_true", help=argparse.SUPPRESS)
    given = parser.parse_args()
    letters = given.goal or sorted(known)
    if given.here:
        for line in known[letters[0]].run(Effort(given.full, given.seed)):
            sys.stdout.write(json.dumps(asdict(line)) + "\n")
        return 0
    sys.stdout.write(f"seed {given.seed}, {'full' if given.full else 'short'}\n{row(HEAD)}\n")
    stood = True
    for letter in letters:
        sys.stdout.write(f"{letter}     {known[letter].claim}\n")
        sys.stdout.flush()
        lines, seconds = attack(letter, full=given.full, seed=given.seed)
        for number, line in enumerate(lines):
            took = f"{seconds:.0f}" if number == 0 else ""
            word = "yes" if line.stood else "NO"
            sys.stdout.write(row((letter, line.attack, line.naive, line.ours, word, took)) + "\n")
        stood &= bool(lines) and all(line.stood for line in lines)
    return 0 if stood else 1


if __name__ == "__main__":
    sys.exit(main())
