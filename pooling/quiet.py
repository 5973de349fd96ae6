"""Objects that hold what somebody measured print themselves without it.

Anything may print an object: a log line, an error, a test's output. Dataclasses of that kind say `repr=False`.
"""

from msgspec import Struct


class Quiet(Struct, frozen=True):
    """A frozen struct whose text is the name of its class.

    >>> class Reading(Quiet, frozen=True):
    ...     value: float
    >>> Reading(217.31)
    Reading(…)
    """

    def __repr__(self) -> str:
        return f"{type(self).__name__}(…)"
