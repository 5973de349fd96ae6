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
from server.core.locks import single_writer
from server.editions.models import SpentMarks

SPENT: Final = "spent"  # what the marks are made for, and what the erasure journal calls them
ROWS_AT_ONCE: Final = 16  # of 256; all of a large pool at once would fill the memory of a small machine
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
    if SpentMarks.objects.filter(key_version__gt=keys.key_version()).exists():
        raise Conflict("The keys are newer than this process knows: start it again, with the present keys file.")


def spend(bands_of: Iterable[Bands], *, family: str) -> None:
    """Keep for good that these wears have been counted, even where a copy of the database is put back."""
    newest = {_marks(band, family)[-1] for own in bands_of for band in own}
    _keep(newest)
    journal.note_marks(SPENT, newest)


def spend_noted(noted: frozenset[bytes]) -> int:
    """After a restore: what has been counted since the copy was made stays counted, and never enters again.

    The sums it was counted in are lost with the database, but published editions rest on them.
    """
    missing = noted - _stored(noted)
    _keep(missing)
    return len(missing)


def carry_spent() -> int:
    """Carry every mark that is behind the newest key to it; say how many they were."""
    n_carried = 0
    for row in SpentMarks.objects.filter(key_version__lt=keys.key_version()).order_by("id"):
        marks = _unpacked(row)
        _keep({keys.carried(SPENT, mark, made_under=row.key_version, n_bytes=keys.NUMBER_BYTES) for mark in marks})
        row.delete()
        n_carried += len(marks)
    return n_carried


def _marks(band: int, family: str) -> list[bytes]:
    """What stands for a band under each key so far: a stored mark may be of any of them."""
    number = band.to_bytes(keys.NUMBER_BYTES, signed=True)
    return keys.marks(SPENT, f"{family}|".encode() + number, n_bytes=keys.NUMBER_BYTES)


# Packed


def _keep(marks: Iterable[bytes]) -> None:
    """Add marks under the newest key to those that begin alike; one cut-off or rotation at a time."""
    added = _by_first_byte(marks)
    with single_writer("cut-off"):
        for first_bytes in chunks(added, of=ROWS_AT_ONCE):
            rows = SpentMarks.objects.filter(key_version=keys.key_version(), first_byte__in=first_bytes)
            there = {row.first_byte: _unpacked(row) for row in rows}
            SpentMarks.objects.bulk_create(
                [
                    SpentMarks(
                        key_version=keys.key_version(),
                        first_byte=first,
                        numbers=b"".join(sorted(added[first] | there.get(first, frozenset()))),
                    )
                    for first in first_bytes
                ],
                update_conflicts=True,
                unique_fields=["key_version", "first_byte"],
                update_fields=["numbers"],
            )


def _stored(marks: Iterable[bytes]) -> set[bytes]:
    asked = _by_first_byte(marks)
    found: set[bytes] = set()
    for first_bytes in chunks(asked, of=ROWS_AT_ONCE):
        for row in SpentMarks.objects.filter(first_byte__in=first_bytes):
            found |= asked[row.first_byte] & _unpacked(row)
    return found


def _by_first_byte(marks: Iterable[bytes]) -> dict[int, set[bytes]]:
    found: dict[int, set[bytes]] = {}
    for mark in marks:
        found.setdefault(mark[0], set()).add(mark)
    return found


def _unpacked(row: SpentMarks) -> frozenset[bytes]:
    numbers, width = bytes(row.numbers), keys.NUMBER_BYTES
    return frozenset(numbers[start : start + width] for start in range(0, len(numbers), width))
