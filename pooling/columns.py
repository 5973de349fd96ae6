"""The pairs of one wear as columns, and those columns packed into one small block for storing."""

import struct
import zlib
from collections.abc import Iterable
from dataclasses import dataclass, fields
from functools import cached_property
from operator import attrgetter
from typing import Any

import numpy as np
from msgspec.structs import astuple
from numpy.typing import NDArray

from pooling.errors import InvalidInput
from pooling.record import Pair, WearRecord
from pooling.units import to_mg_dl
from pooling.vocabulary import GLUCOSE_UNITS, MARKS, PROMPTS, SOURCES

Ints = NDArray[np.signedinteger[Any]]

NO_SENSOR = -1
NO_RATE = -32768
NO_GAP = -1
NO_REPLICATE = -1
ELAPSED_STEP_MIN = 5

_TYPES = {
    "elapsed_min": "<i4",
    "reference_hundredths": "<i4",
    "sensor_hundredths": "<i4",
    "mark": "<i1",
    "prompt": "<i1",
    "source": "<i1",
    "rate_hundredths": "<i2",
    "gap_min": "<i2",
    "replicate_hundredths": "<i4",
}
_MAGIC = b"CWPC"
_VERSION = 1
_HEAD = struct.Struct("<4sBBI")  # magic, version, unit code, pairs
_TAIL = struct.Struct("<I")  # CRC-32 of everything before it
_BYTES_A_PAIR = sum(np.dtype(kind).itemsize for kind in _TYPES.values())


@dataclass(frozen=True, eq=False, repr=False)
class PairColumns:
    """Pairs of one wear in order of elapsed minutes; every array has shape (n_pairs,) and is read-only.

    elapsed_min : minutes since insertion, rounded down to five, so that no pair crosses the end of a day or of the wear
    reference_hundredths, sensor_hundredths, replicate_hundredths : hundredths of `glucose_unit`; -1 where there is none
    mark : 0 none, 1 below, 2 above the sensor's range
    prompt, source : places in `vocabulary.PROMPTS` and `vocabulary.SOURCES`
    rate_hundredths : hundredths of mg/dL a minute; -32768 where unknown
    gap_min : minutes between fingerstick and sensor reading; -1 where unknown
    """

    elapsed_min: Ints
    reference_hundredths: Ints
    sensor_hundredths: Ints
    mark: Ints
    prompt: Ints
    source: Ints
    rate_hundredths: Ints
    gap_min: Ints
    replicate_hundredths: Ints
    glucose_unit: str

    def __post_init__(self) -> None:
        if self.glucose_unit not in GLUCOSE_UNITS:
            raise InvalidInput(f"glucose unit must be one of {', '.join(GLUCOSE_UNITS)}")
        for name, kind in _TYPES.items():
            column = np.array(getattr(self, name), dtype=kind)
            if column.ndim != 1 or column.size != len(self.elapsed_min):
                raise InvalidInput("every column must be a vector with one entry a pair")
            object.__setattr__(self, name, _read_only(column))
        _check_values(self)

    @property
    def n_pairs(self) -> int:
        return int(self.elapsed_min.size)

    @cached_property
    def reference_mg_dl(self) -> NDArray[np.float64]:
        return _read_only(to_mg_dl(self.reference_hundredths / 100, self.glucose_unit))

    @cached_property
    def sensor_mg_dl(self) -> NDArray[np.float64]:
        """Sensor readings; NaN where the sensor showed no number."""
        shown = np.where(self.sensor_hundredths == NO_SENSOR, np.nan, self.sensor_hundredths / 100)
        return _read_only(to_mg_dl(shown, self.glucose_unit))

    @cached_property
    def numbers_mg_dl(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Reference and sensor of the pairs in which the sensor showed a number."""
        numeric = self.mark == 0
        return _read_only(self.reference_mg_dl[numeric]), _read_only(self.sensor_mg_dl[numeric])

    def only(self, chosen: NDArray[Any]) -> "PairColumns":
        """The pairs that a mask or an index names, in that order."""
        if chosen.dtype == np.bool_ and chosen.all():
            return self
        part = object.__new__(PairColumns)  # what was checked once needs no second look
        object.__setattr__(part, "glucose_unit", self.glucose_unit)
        for name in _TYPES:
            object.__setattr__(part, name, _read_only(getattr(self, name)[chosen]))
        return part


def _read_only(column: NDArray[Any]) -> NDArray[Any]:
    column.setflags(write=False)
    return column


def _check_values(columns: PairColumns) -> None:
    lists = {"mark": len(MARKS) + 1, "prompt": len(PROMPTS), "source": len(SOURCES)}
    for name, n_places in lists.items():
        places = getattr(columns, name)
        if places.view(np.uint8).max(initial=0) >= n_places:  # one below 0 is a large one there
            raise InvalidInput("a mark, prompt or source lies outside its list")
    if columns.elapsed_min.min(initial=0) < 0 or columns.reference_hundredths.min(initial=1) <= 0:
        raise InvalidInput("elapsed minutes must be 0 or more, reference readings above 0")
    sensor = columns.sensor_hundredths
    if not np.where(columns.mark == 0, sensor > 0, sensor == NO_SENSOR).all():
        raise InvalidInput("a pair has either a sensor reading above 0 or a mark")


def columns_from(record: WearRecord) -> PairColumns:
    """The pairs of a record as columns."""
    return columns_of(record.pairs, record.glucose_unit)


def columns_of(pairs: Iterable[Pair], glucose_unit: str) -> PairColumns:
    """Pairs as columns, sorted by elapsed minutes (pairs of one minute keep their order)."""
    in_order = sorted(pairs, key=attrgetter("elapsed_min"))
    told = zip(*map(astuple, in_order), strict=True) if in_order else [()] * len(Pair.__struct_fields__)
    of = dict(zip(Pair.__struct_fields__, told, strict=True))
    whole = [
        of["elapsed_min"],
        [_MARK_PLACES[mark] for mark in of["sensor_mark"]],
        [_PROMPT_PLACES[prompt] for prompt in of["prompt"]],
        [_SOURCE_PLACES[source] for source in of["source"]],
        [NO_GAP if gap is None else gap for gap in of["gap_min"]],
    ]
    elapsed_min, mark, prompt, source, gap_min = np.array(whole, dtype=np.int64)
    # None becomes NaN; half goes to even, as with `round`.
    decimal = [of[name] for name in ("reference", "sensor", "rate_mg_dl_min", "replicate")]
    reference, sensor, rate, replicate = np.rint(np.array(decimal, dtype=np.float64) * 100)
    for values, absent in ((sensor, NO_SENSOR), (rate, NO_RATE), (replicate, NO_REPLICATE)):
        values[np.isnan(values)] = absent
    return PairColumns(
        elapsed_min=elapsed_min - elapsed_min % ELAPSED_STEP_MIN,
        reference_hundredths=reference,
        sensor_hundredths=sensor,
        mark=mark,
        prompt=prompt,
        source=source,
        rate_hundredths=rate,
        gap_min=gap_min,
        replicate_hundredths=replicate,
        glucose_unit=glucose_unit,
    )


_MARK_PLACES = {None: 0} | {mark: 1 + place for place, mark in enumerate(MARKS)}
_PROMPT_PLACES = {prompt: place for place, prompt in enumerate(PROMPTS)}
_SOURCE_PLACES = {source: place for place, source in enumerate(SOURCES)}


def pack(columns: PairColumns) -> bytes:
    """Columns as one block of bytes: a versioned head, the columns, a checksum. 23 bytes a pair.

    Examples
    --------
    >>> empty = PairColumns(*[np.empty(0)] * 9, glucose_unit="mg/dL")
    >>> unpack(pack(empty)).n_pairs
    0
    """
    head = _HEAD.pack(_MAGIC, _VERSION, GLUCOSE_UNITS.index(columns.glucose_unit), columns.n_pairs)
    body = b"".join([head, *(getattr(columns, name).tobytes() for name in _TYPES)])
    return body + _TAIL.pack(zlib.crc32(body))


def unpack(block: bytes) -> PairColumns:
    """The columns that `pack` wrote.

    Raises
    ------
    InvalidInput
        If the block is cut, changed, of another version, or no such block at all.
    """
    if len(block) < _HEAD.size + _TAIL.size:
        raise InvalidInput("this is no block of pairs: it is too short")
    magic, version, unit, n_pairs = _HEAD.unpack_from(block)
    if magic != _MAGIC or version != _VERSION or unit >= len(GLUCOSE_UNITS):
        raise InvalidInput("this is no block of pairs of a version that can be read")
    if len(block) != _HEAD.size + n_pairs * _BYTES_A_PAIR + _TAIL.size:
        raise InvalidInput("this block of pairs has been cut or added to")
    if _TAIL.unpack_from(block, len(block) - _TAIL.size)[0] != zlib.crc32(block[: -_TAIL.size]):
        raise InvalidInput("this block of pairs has been damaged")
    columns, offset = {}, _HEAD.size
    for name, kind in _TYPES.items():
        columns[name] = np.frombuffer(block, dtype=kind, count=n_pairs, offset=offset)
        offset += columns[name].nbytes
    return PairColumns(**columns, glucose_unit=GLUCOSE_UNITS[unit])


assert (*_TYPES, "glucose_unit") == tuple(field.name for field in fields(PairColumns))
