"""Long lists of ids, in pieces that a query can carry."""

from collections.abc import Iterable, Iterator
from itertools import islice
from typing import Any, Final, Protocol, TypeVar

IDS_A_QUERY: Final = 900


class Ordered(Protocol):
    def __lt__(self, other: Any, /) -> bool: ...


Id = TypeVar("Id", bound=Ordered)
Item = TypeVar("Item")


def chunks(ids: Iterable[Id], *, of: int = IDS_A_QUERY) -> Iterator[list[Id]]:
    """Each id once, in their own order, so many at a time."""
    ordered = sorted(set(ids))
    for start in range(0, len(ordered), of):
        yield ordered[start : start + of]


def pieces(items: Iterable[Item], *, of: int) -> Iterator[list[Item]]:
    """All of them as they come, so many at a time; no more than these are held."""
    left = iter(items)
    while piece := list(islice(left, of)):
        yield piece
