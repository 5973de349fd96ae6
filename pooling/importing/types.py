"""What reading an export hands on: text cells, a mapping of columns, questions, and readings.

Cells and readings live in memory only; no `repr` here shows one.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from pooling.record import Pair

# What a table holds: one instrument's trace, fingersticks, or pairs typed by hand.
Kind = Literal["sensor", "meter", "typed"]
DateOrder = Literal["day_first", "month_first", "year_first"]

# What a column is:
#   moment              date and time in one cell; `date` and `time_of_day` are the same in two
#   elapsed             time since insertion
#   sensor, reference   readings of the sensor, fingersticks; `glucose` is whichever of them `kind` says
#   replicate           a second strip
#   prompt, site, wear  why the fingerstick was taken, where the sensor sat, which wear a row belongs to
#   inserted, ended     when the wear of a row began and ended
#   instrument          words that say of each row whether `glucose` is the sensor's or a fingerstick
ROLES: tuple[str, ...] = (
    "moment",
    "date",
    "time_of_day",
    "elapsed",
    "sensor",
    "reference",
    "glucose",
    "replicate",
    "prompt",
    "wear",
    "inserted",
    "ended",
    "site",
    "instrument",
    "ignored",
)

# Marks of `Series.mark`, as in the packed block of a wear: a number, below range, above range.
NUMBER, BELOW, ABOVE = 0, 1, 2

# Where time since insertion is put when a table has no clock.
INSERTION = np.datetime64("1970-01-01T00:00:00", "s")


@dataclass(frozen=True, slots=True)
class Sheet:
    """One table as text cells. Blank rows are gone; a row may be shorter than the widest one.

    name : name of the sheet in a workbook, empty for text
    rows : the cells; a tuple of tuples, or `rows.Rows`, which is the same to whoever looks
    lines : 1-based line (or row) numbers in the file, as a person counts them; the first line of a cell with line ends
    seen : columns that were read before, kept so that no column is read twice
    """

    name: str = field(repr=False)
    rows: Sequence[tuple[str, ...]] = field(repr=False)
    lines: tuple[int, ...] = field(repr=False)
    seen: dict[tuple[int, int, str], Any] = field(default_factory=dict, init=False, repr=False, compare=False)


class ColumnMapping(Struct, frozen=True):
    """How a table is to be read; proposed by `propose`, put right by the person, kept as JSON.

    kind : what the table holds
    header_line : line of the header, None without one; rows up to it are not read
    roles : one of `ROLES` a column
    glucose_unit : "mg/dL", "mmol/L" or None while that is open
    date_order : None while that is open; "year_first" also for cells without a date
    decimal : "." or ","; with "," a full stop is understood as well
    time_zone : a name of the time-zone database such as "Europe/Lisbon", with which all times come back in UTC; or
        None, with which they stay as the instrument's clock showed them
    header_hash_input : normalised header words, so that a server can know the layout again under a key of its own
    """

    kind: Kind
    header_line: int | None
    roles: tuple[str, ...]
    glucose_unit: str | None
    date_order: str | None
    decimal: str
    time_zone: str | None
    header_hash_input: tuple[str, ...]


class Question(Struct, frozen=True):
    """What only the person can answer, or (not `blocking`) something that was settled and should be said.

    code : the field of `ColumnMapping` that the answer goes into, or "inserted" for times of insertion
    options : what may be answered; empty where the answer is free or none is needed
    lines : lines of the file that raised it
    """

    code: str
    text: str
    options: tuple[str, ...]
    lines: tuple[int, ...]
    blocking: bool = True


class Proposal(Struct, frozen=True):
    """A mapping, what it leaves open, and the first rows as they would be read (its `repr` shows no cell)."""

    mapping: ColumnMapping
    questions: tuple[Question, ...]
    preview: tuple[tuple[str, ...], ...]

    def __repr__(self) -> str:
        return f"Proposal(kind={self.mapping.kind!r}, {len(self.questions)} question(s))"


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """Readings of one instrument in time order; every array has shape (n_readings,) and is read-only.

    time : datetime64[s]; the instrument's own clock, or UTC where the mapping names a time zone, or counted from
        `INSERTION` where the table has only time since insertion
    mg_dl : NaN where the instrument showed a mark
    mark : 0 number, 1 below range, 2 above range
    line : line in the file
    """

    time: NDArray[np.datetime64] = field(repr=False)
    mg_dl: NDArray[np.float64] = field(repr=False)
    mark: NDArray[np.int8] = field(repr=False)
    line: NDArray[np.int64] = field(repr=False)

    def __post_init__(self) -> None:
        for column in (self.time, self.mg_dl, self.mark, self.line):
            column.setflags(write=False)

    @property
    def n_readings(self) -> int:
        return int(self.time.size)


@dataclass(frozen=True, slots=True)
class TypedWear:
    """Pairs typed from displays, one wear; values in the mapping's unit.

    label : as typed, or the number of the wear in the sheet
    site : a leaf of the site tree, or None
    inserted, ended : as `Series.time`, or None where the sheet does not say
    pairs : in order of elapsed minutes, each with source "display"
    left_out : lines that make no pair: no fingerstick, no sensor reading, or a fingerstick beyond the meter's range
    """

    label: str = field(repr=False)
    site: str | None = field(repr=False)
    inserted: np.datetime64 | None = field(repr=False)
    pairs: tuple[Pair, ...] = field(repr=False)
    ended: np.datetime64 | None = field(default=None, repr=False)
    left_out: tuple[int, ...] = ()
