"""Wears that were once counted, known by keyed numbers alone: neither they nor a copy of them enter again.

A wear is spent in one outcome family at a time. The numbers of one wear are not kept together, and a number says
nothing about a wear without the keys.
"""

from collections.abc import Iterable, Mapping
from typing import Final
from uuid import UUID

from server.core import journal, keys
from server.core.chunks import chunks
from server.core.errors import Conflict
from server.editions.models import SpentMark

SPENT: Final = "spent"  # what the marks are made for, and what the erasure journal calls them
BATCH: Final = 500
Bands = tuple[int, ...]


def unspent(bands_of: Mapping[UUID, Bands], *, family: str) -> set[UUID]:
    """The wears of which none was counted before, as such or as a copy; of copies that wait, the one with the first id.

    Wears with too few pairs to be told apart have no bands, and each is one of its own.
    """
    _refuse_missing_keys()
    made = {band: _marks(band, family) for own in bands_of.values() for band in own}
    stored = _stored(mark for marks in made.values() for mark in marks)
    taken = {band for band, marks in made.items() if not stored.isdisjoint(marks)}
    fresh: set[UUID] = set()
    for wear_id in sorted(bands_of):
        if taken.isdisjoint(bands_of[wear_id]):
            fresh.add(wear_id)
            taken.update(bands_of[wear_id])
    return fresh


def _refuse_missing_keys() -> None:
    if SpentMark.objects.filter(key_version__gt=keys.key_version()).exists():
        raise Conflict("The keys are newer than this process knows: start it again, with the present keys file.")


def spend(bands_of: Iterable[Bands], *, family: str) -> None:
    """Keep for good that these wears have been counted, even where a copy of the database is put back."""
    newest = _keep({_marks(band, family)[-1] for own in bands_of for band in own})
    journal.note_marks(SPENT, [_bytes(mark) for mark in newest])


def spend_noted(noted: frozenset[bytes]) -> int:
    """After a restore: what has been counted since the copy was made stays counted, and never enters again.

    The sums it was counted in are lost with the database, but published editions rest on them.
    """
    marks = {_number(mark) for mark in noted}
    return len(_keep(marks - _stored(marks)))


def _keep(marks: set[int]) -> list[int]:
    rows = [SpentMark(mark=mark, key_version=keys.key_version()) for mark in sorted(marks)]
    SpentMark.objects.bulk_create(rows, batch_size=BATCH, ignore_conflicts=True)
    return sorted(marks)


def _marks(band: int, family: str) -> list[int]:
    """What stands for a band under each key so far: a stored mark may be of any of them."""
    return [
        _number(mark) for mark in keys.marks(SPENT, f"{family}|".encode() + _bytes(band), n_bytes=keys.NUMBER_BYTES)
    ]


def _bytes(number: int) -> bytes:
    return number.to_bytes(keys.NUMBER_BYTES, signed=True)


def _number(mark: bytes) -> int:
    return int.from_bytes(mark, signed=True)


def _stored(marks: Iterable[int]) -> set[int]:
    return {
        mark
        for chunk in chunks(marks)
        for mark in SpentMark.objects.filter(mark__in=chunk).values_list("mark", flat=True)
    }
