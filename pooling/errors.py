"""Everything that pooling raises on purpose.

PoolingError
├── InvalidInput (also a ValueError)
│   ├── RecordInvalid   a wear record with faults, each with its place
│   └── FileInvalid     one of several files that cannot be read as asked
├── TooFewPeople
└── NoConvergence
"""

from dataclasses import dataclass


class PoolingError(Exception):
    """Root of all errors raised on purpose by pooling."""


class InvalidInput(PoolingError, ValueError):
    """An argument lies outside what the function's documentation allows."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with a record: where it stands, which rule it breaks, and what to do about it."""

    pointer: str
    code: str
    message: str


class RecordInvalid(InvalidInput):
    """A wear record that cannot be taken; nothing of it has been kept."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        super().__init__(f"{len(faults)} fault(s), the first at {faults[0].pointer}")
        self.faults = faults


class FileInvalid(InvalidInput):
    """One of the files given together cannot be read so; `place` counts from 0, `reason` repeats no cell of it."""

    def __init__(self, place: int, reason: str) -> None:
        super().__init__(f"file {place + 1}: {reason}")
        self.place, self.reason = place, reason


class TooFewPeople(PoolingError):
    """Fewer people than the threshold stand behind what was asked for."""


class NoConvergence(PoolingError):
    """A fit ended without an answer that can be trusted."""
