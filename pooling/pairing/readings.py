"""Readings of one instrument in seconds since insertion, in one order whatever order the rows of the file had."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from pooling.faults import PLAUSIBLE
from pooling.importing.types import Series
from pooling.units import from_mg_dl

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

DECIMALS_KEPT = 2
"""Records are kept in hundredths of the typed unit."""


@dataclass(frozen=True, eq=False, repr=False)
class Readings:
    """Readings in order of time; every array has shape (n_readings,).

    second : since insertion, negative before it
    mg_dl : NaN where the instrument showed a mark
    mark : 0 number, 1 below range, 2 above range
    line : line in the file
    """

    second: Ints
    mg_dl: Floats
    mark: NDArray[np.int8]
    line: Ints

    def __repr__(self) -> str:
        return f"Readings({self.second.size})"

    def __len__(self) -> int:
        return int(self.second.size)

    def only(self, chosen: NDArray[np.generic]) -> "Readings":
        """The readings that a mask or an index names."""
        return Readings(self.second[chosen], self.mg_dl[chosen], self.mark[chosen], self.line[chosen])

    @cached_property
    def spacing_min(self) -> float:
        """Median distance of neighbours in minutes; infinite below two readings."""
        return float(np.median(np.diff(self.second))) / 60 if len(self) > 1 else float("inf")


def readings_of(series: Series, *, start: np.datetime64) -> Readings:
    """A series in order of time, then value, then line, so that the order of rows in the file decides nothing."""
    second = (series.time - start).astype("timedelta64[s]").astype(np.int64)
    found = Readings(second, series.mg_dl.astype(np.float64), series.mark.astype(np.int8), series.line.astype(np.int64))
    if (np.diff(second) > 0).all():
        return found
    return found.only(np.lexsort((series.line, series.mg_dl, series.mark, second)))


def repeats_the_row_before(readings: Readings) -> Flags:
    """Which readings have the second, value and mark of the reading before them: one row exported twice."""
    same = np.zeros(len(readings), dtype=bool)
    same[1:] = (
        (np.diff(readings.second) == 0)
        & (np.diff(readings.mark) == 0)
        & np.isclose(readings.mg_dl[1:], readings.mg_dl[:-1], rtol=0, atol=1e-9, equal_nan=True)
    )
    return same


def shares_the_second_before(readings: Readings) -> Flags:
    """Which readings have the second of the reading before them."""
    return np.concatenate([[False], np.diff(readings.second) == 0])[: len(readings)]


def shown_in(mg_dl: Floats, unit: str) -> Floats:
    """Readings in the unit of the record, as the hundredths that it keeps."""
    return from_mg_dl(mg_dl, unit).round(DECIMALS_KEPT)


def plausible(readings: Readings, unit: str) -> Flags:
    """Marks, and numbers that a record in this unit may hold."""
    low, high = PLAUSIBLE[unit]
    shown = shown_in(readings.mg_dl, unit)
    return (readings.mark != 0) | ((shown >= low) & (shown <= high))
