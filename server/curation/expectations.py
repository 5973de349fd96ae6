"""What an edition lets one expect of a new wear, handed in by those who make editions: curation lies below them."""

from collections.abc import Callable, Mapping
from typing import Any

from server.groups.models import Group

ModelBlock = Mapping[str, Any]
_sources: list[Callable[[Group], ModelBlock]] = []


def register(source: Callable[[Group], ModelBlock]) -> None:
    """Name what reads the block `model` of a group's last edition, empty before there is one."""
    _sources[:] = [source]


def model_for(group: Group) -> ModelBlock:
    """The block that wears of a group are set against; empty before a first edition."""
    return _sources[0](group) if _sources else {}
