"""The pairs of one wear as columns, and those columns packed into one small block for storing."""

import struct
import zlib
from collections.abc import Iterable
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
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


@dataclass(frozen=True, slots=True, eq=False, repr=False)
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
            column.setflags(write=False)
            object.__setattr__(self, name, column)
        _check_values(self)

    @property
    def n_pairs(self) -> int:
        return int(self.elapsed_min.size)

    @property
    def reference_mg_dl(self) -> NDArray[np.float64]:
        return to_mg_dl(self.reference_hundredths / 100, self.glucose_unit)

    @property
    def sensor_mg_dl(self) -> NDArray[np.float64]:
        """Sensor readings; NaN where the sensor showed no number."""
        shown = np.where(self.sensor_hundredths == NO_SENSOR, np.nan, self.sensor_hundredths / 100)
        return to_mg_dl(shown, self.glucose_unit)

    def only(self, chosen: NDArray[Any]) -> "PairColumns":
        """The pairs that a mask or an index names, in that order."""
        part = object.__new__(PairColumns)  # what was checked once needs no second look
        object.__setattr__(part, "glucose_unit", self.glucose_unit)
        for name in _TYPES:
            column = getattr(self, name)[chosen]
            column.setflags(write=False)
            object.__setattr__(part, name, column)
        return part


def _check_values(columns: PairColumns) -> None:
    in_lists = (
        ((columns.mark >= 0) & (columns.mark <= len(MARKS))).all()
        and ((columns.prompt >= 0) & (columns.prompt < len(PROMPTS))).all()
        and ((columns.source >= 0) & (columns.source < len(SOURCES))).all()
    )
    if not in_lists:
        raise InvalidInput("a mark, prompt or source lies outside its list")
    if (columns.elapsed_min < 0).any() or (columns.reference_hundredths <= 0).any():
        raise InvalidInput("elapsed minutes must be 0 or more, reference readings above 0")
    without_number = columns.sensor_hundredths == NO_SENSOR
    if ((columns.mark != 0) != without_number).any() or (columns.sensor_hundredths[~without_number] <= 0).any():
        raise InvalidInput("a pair has either a sensor reading above 0 or a mark")


def columns_from(record: WearRecord) -> PairColumns:
    """The pairs of a record as columns."""
    return columns_of(record.pairs, record.glucose_unit)


def columns_of(pairs: Iterable[Pair], glucose_unit: str) -> PairColumns:
    """Pairs as columns, sorted by elapsed minutes (pairs of one minute keep their order)."""
    in_order = sorted(pairs, key=lambda pair: pair.elapsed_min)
    rows = np.array([_row(pair) for pair in in_order], dtype=np.int64).reshape(len(in_order), len(_TYPES))
    columns = dict(zip(_TYPES, rows.T, strict=True))
    return PairColumns(**columns, glucose_unit=glucose_unit)


def _row(pair: Pair) -> tuple[int, ...]:
    return (
        pair.elapsed_min // ELAPSED_STEP_MIN * ELAPSED_STEP_MIN,
        round(pair.reference * 100),
        _hundredths(pair.sensor, NO_SENSOR),
        0 if pair.sensor_mark is None else 1 + MARKS.index(pair.sensor_mark),
        PROMPTS.index(pair.prompt),
        SOURCES.index(pair.source),
        _hundredths(pair.rate_mg_dl_min, NO_RATE),
        NO_GAP if pair.gap_min is None else pair.gap_min,
        _hundredths(pair.replicate, NO_REPLICATE),
    )


def _hundredths(value: float | None, absent: int) -> int:
    return absent if value is None else round(value * 100)


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
