"""The one table of a wear's states and of the steps between them. Services ask it, and the database checks it.

```
(new) → private → queued → approved, waiting → admitted
          ↑         ↓ ↑        │
          │       asked        │      queued → excluded → queued on appeal
          └── taken back ──────┘      approved or excluded → queued when a decision is undone before admission
```

Erasing a wear deletes its row, from any state, and so is no step of this table.
"""

from collections.abc import Mapping
from functools import reduce
from operator import or_
from types import MappingProxyType
from typing import Final

from django.db import models


class State(models.TextChoices):
    """`approved` is the state of a wear that waits for a cut-off."""

    PRIVATE = "private"
    QUEUED = "queued"
    ASKED = "asked"
    APPROVED = "approved"
    ADMITTED = "admitted"
    EXCLUDED = "excluded"


NEW: Final = ""
STATES: Final = tuple(State.values)

STEPS: Final[Mapping[str, tuple[State, ...]]] = MappingProxyType(
    {
        NEW: (State.PRIVATE,),
        State.PRIVATE: (State.QUEUED,),
        State.QUEUED: (State.ASKED, State.APPROVED, State.EXCLUDED, State.PRIVATE),
        State.ASKED: (State.QUEUED, State.PRIVATE),
        State.APPROVED: (State.ADMITTED, State.QUEUED, State.PRIVATE),
        State.EXCLUDED: (State.QUEUED, State.PRIVATE),
        State.ADMITTED: (),
    }
)

# States in which a wear belongs to a group and can still be taken back as if it had never been given.
GIVEN: Final = (State.QUEUED, State.ASKED, State.APPROVED, State.EXCLUDED)


def allowed(previous: str, state: str) -> bool:
    return state in STEPS.get(previous, ())


def is_one_of_the_steps() -> models.Q:
    """The table as a condition on (previous_state, state), for the database."""
    rows = [
        models.Q(previous_state=str(previous), state__in=[str(state) for state in states])
        for previous, states in STEPS.items()
        if states
    ]
    return reduce(or_, rows)
