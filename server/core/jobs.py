"""What there is to do, beside answering requests: jobs, each with a row, and what the sweep repeats.

An app's `tasks.py` registers both when it is imported; `server/core/apps.py` imports them all. The handler of a job
gets its subject's id. It may be killed at any line and is then called again, so it must leave the same state both ways.
"""

from collections.abc import Callable, Mapping
from datetime import date
from types import MappingProxyType
from uuid import UUID

Handler = Callable[[UUID], None]
Sweeper = Callable[[date], object]

MOST_ATTEMPTS = 5
_handlers: dict[str, Handler] = {}
_sweepers: dict[str, Sweeper] = {}


def register(kind: str, handler: Handler) -> None:
    if _handlers.setdefault(kind, handler) is not handler:
        raise RuntimeError(f"two handlers for jobs of kind {kind}")


def register_sweep(name: str, sweeper: Sweeper) -> None:
    """Have `sweeper` called with the day every few seconds; it must be quick when there is nothing to do."""
    if _sweepers.setdefault(name, sweeper) is not sweeper:
        raise RuntimeError(f"two sweepers named {name}")


def handlers() -> Mapping[str, Handler]:
    return MappingProxyType(_handlers)


def sweepers() -> Mapping[str, Sweeper]:
    return MappingProxyType(_sweepers)
