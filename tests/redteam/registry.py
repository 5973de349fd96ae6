"""What the red team holds against the service: goals, each with attacks that must break a naive build and not ours.

A module `goal_<letter>.py` beside this one holds one `GOAL`. Its `run` yields a line for each attack; a line says what
the attack got out of a naive build, kept here for the purpose, and what it got out of ours.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Effort:
    """How hard to try: `full` for the numbers that are told, a short slice of the same for the suite."""

    full: bool
    seed: int

    def pick(self, full: int, short: int) -> int:
        return full if self.full else short


@dataclass(frozen=True, slots=True)
class Line:
    """One attack: what it is, what it found in a naive build and in ours, and whether ours stood."""

    attack: str
    naive: str
    ours: str
    stood: bool


@dataclass(frozen=True, slots=True)
class Goal:
    letter: str
    claim: str
    run: Callable[[Effort], Iterator[Line]]


def goals() -> dict[str, Goal]:
    """Every goal there is, by its letter."""
    modules = sorted(path.stem for path in Path(__file__).parent.glob("goal_*.py"))
    found = [import_module(f"tests.redteam.{module}").GOAL for module in modules]
    return {goal.letter: goal for goal in found}
