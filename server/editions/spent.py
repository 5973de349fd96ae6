"""Wears that were once counted, known by keyed numbers alone: neither they nor a copy of them enter again.

A wear is spent in one outcome family at a time. The numbers of one wear are not kept together, and a number says
nothing about a wear without the keys.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Final
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

from server.core import journal, keys
from server.core.chunks import chunks, pieces
from server.core.errors import Conflict
from server.core.locks import single_writer
from server.editions.models import SpentMarks

SPENT: Final = "spent"  # what the marks are made for, and what the erasure journal calls them
ROWS_AT_ONCE: Final = 16  # of 256; all of a large pool at once would fill the memory of a small machine
BANDS_AT_ONCE: Final = 100_000
Bands = Sequence[int] | NDArray[np.int64]
# A mark as a number: in the order of numbers as in that of their bytes. As it is stored, and as it is reckoned with.
STORED: Final = np.dtype(">u8")
Marks = NDArray[np.uint64]


def unspent(bands_of: Mapping[UUID, Bands], *, family: str) -> dict[UUID, bytes]:
    """The wears of which none was counted before, as such or as a copy, each with the marks to `spend` once it is.

    Of copies that wait, it is the one with the first id. Wears with too few pairs to be told apart have no bands, and
    each is one of its own.
    """
    _refuse_missing_keys()
    ids = sorted(bands_of)
    bands = np.concatenate([NO_BANDS, *(np.asarray(bands_of[wear_id], dtype=np.int64) for wear_id in ids)])
    marks = _marks(bands, family)
    is_stored: NDArray[np.bool_] = np.any(_are_stored(marks), axis=0)
    is_shared = _come_twice(bands)
    newest, fresh = marks[-1].astype(STORED), {}
    taken: set[int] = set()
    ends = np.cumsum([len(bands_of[wear_id]) for wear_id in ids], dtype=int).tolist()
    for wear_id, start, end in zip(ids, [0, *ends], ends, strict=False):
        shared = bands[start:end][is_shared[start:end]].tolist()
        if is_stored[start:end].any() or not taken.isdisjoint(shared):
            continue
        fresh[wear_id] = newest[start:end].tobytes()
        taken.update(shared)
    return fresh


def _come_twice(bands: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Whether another wear may have the same band: few have, and nothing else has to be looked up one by one."""
    different, n_times = np.unique(bands, return_counts=True)
    return np.isin(bands, different[n_times > 1])


def _refuse_missing_keys() -> None:
    if SpentMarks.objects.filter(key_version__gt=keys.key_version()).exists():
        raise Conflict("The keys are newer than this process knows: start it again, with the present keys file.")


def spend(marks: Iterable[bytes]) -> None:
    """Keep for good that wears with these marks have been counted, even where a copy of the database is put back."""
    newest = _different(_numbers(marks))
    _keep(newest)
    journal.note_ordered(SPENT, _one_by_one(newest))


def spend_noted(noted: frozenset[bytes]) -> int:
    """After a restore: what has been counted since the copy was made stays counted, and never enters again.

    The sums it was counted in are lost with the database, but published editions rest on them.
    """
    marks = _numbers(noted)
    missing = marks[~_are_stored(marks)]
    _keep(missing)
    return len(missing)


def carry_spent() -> int:
    """Carry every mark that is behind the newest key to it; say how many they were."""
    n_carried = 0
    for row in SpentMarks.objects.filter(key_version__lt=keys.key_version()).order_by("id"):
        marks = list(_one_by_one(_unpacked(row)))
        _keep(
            _numbers(keys.carried(SPENT, mark, made_under=row.key_version, n_bytes=keys.NUMBER_BYTES) for mark in marks)
        )
        row.delete()
        n_carried += len(marks)
    return n_carried


def _marks(bands: NDArray[np.int64], family: str) -> Marks:
    """What stands for each band under each key so far, keys x bands: a stored mark may be of any of them."""
    about, numbers, width = f"{family}|".encode(), bands.astype(">i8").tobytes(), keys.NUMBER_BYTES
    named = (about + numbers[start : start + width] for start in range(0, len(numbers), width))
    made = [keys.joined_marks(SPENT, some, n_bytes=width) for some in pieces(named, of=BANDS_AT_ONCE)]
    return np.stack([_numbers(piece[version] for piece in made) for version in range(keys.key_version())])


# Packed


def _keep(marks: Marks) -> None:
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
                        numbers=_different(added[first], there.get(first, NONE)).astype(STORED).tobytes(),
                    )
                    for first in first_bytes
                ],
                update_conflicts=True,
                unique_fields=["key_version", "first_byte"],
                update_fields=["numbers"],
            )


def _are_stored(marks: Marks) -> NDArray[np.bool_]:
    asked, known = _by_first_byte(marks), [NONE]
    for first_bytes in chunks(asked, of=ROWS_AT_ONCE):
        for row in SpentMarks.objects.filter(first_byte__in=first_bytes):
            known.append(np.intersect1d(asked[row.first_byte], _unpacked(row), assume_unique=True))
    return np.isin(marks, np.concatenate(known))


def _by_first_byte(marks: Marks) -> dict[int, Marks]:
    """Each mark once, in ascending order."""
    different = _different(marks)
    firsts, starts = np.unique(different >> np.uint64(8 * (keys.NUMBER_BYTES - 1)), return_index=True)
    return dict(zip(firsts.tolist(), np.split(different, starts[1:]), strict=False))


def _different(*marks: Marks) -> Marks:
    """Each mark once, in ascending order. `np.unique` fills a table first: 15 times the time and thrice the room."""
    ordered = np.concatenate([some.ravel() for some in marks])
    ordered.sort()
    is_first = np.ones(ordered.size, dtype=bool)
    np.not_equal(ordered[1:], ordered[:-1], out=is_first[1:])
    return ordered[is_first]


def _unpacked(row: SpentMarks) -> Marks:
    return _numbers([row.numbers])


def _numbers(marks: Iterable[bytes | memoryview]) -> Marks:
    return np.frombuffer(b"".join(marks), dtype=STORED).astype(np.uint64)


def _one_by_one(marks: Marks) -> Iterator[bytes]:
    packed, width = marks.astype(STORED).tobytes(), keys.NUMBER_BYTES
    return (packed[start : start + width] for start in range(0, len(packed), width))


NONE: Final = _numbers([])
NO_BANDS: Final = np.empty(0, dtype=np.int64)
