"""Clocks that are put back or forward: one running time from what the wall showed."""

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
from numpy.typing import NDArray

from pooling.errors import InvalidInput

_FEWEST_TO_SEE = 20
_ROWS_A_STEP, _DAY_MIN = 20, 1440
_NONE = np.zeros(0, np.intp)


@dataclass(frozen=True, slots=True)
class Running:
    """Times that run on without a jump.

    time : datetime64[s] in UTC
    repeated : places in an hour that the clock showed twice
    missing : places in an hour that the clock should have left out; read as if it had not yet been put forward
    """

    time: NDArray[np.datetime64]
    repeated: NDArray[np.intp]
    missing: NDArray[np.intp]


def zone_of(name: str) -> ZoneInfo:
    """A zone of the time-zone database.

    Raises
    ------
    InvalidInput
        If there is none of that name.
    """
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise InvalidInput("no such time zone; write it like Europe/Lisbon or America/Sao_Paulo") from None


def in_utc(wall: NDArray[np.datetime64], name: str) -> Running:
    """UTC of wall-clock times of one zone, given in the order of the file.

    In an hour that the clock shows twice, readings before a step back belong to the first pass and those after it to
    the second; without a step back they are all taken for the first. A time in an hour that the clock leaves out is
    taken to be shown by a clock that was not put forward.

    Parameters
    ----------
    wall : datetime64[s], shape (n,)
        Rising or falling, or in no order at all.
    name : str
        Name of a zone in the time-zone database.

    Raises
    ------
    InvalidInput
        If there is no such zone.

    Examples
    --------
    >>> wall = np.array(["2031-10-26T02:10", "2031-10-26T02:50", "2031-10-26T02:10"], "datetime64[s]")
    >>> in_utc(wall, "Europe/Berlin").time.astype(str).tolist()
    ['2031-10-26T00:10:00', '2031-10-26T00:50:00', '2031-10-26T01:10:00']
    >>> in_utc(np.array(["2031-03-30T02:30"], "datetime64[s]"), "Europe/Berlin").time.astype(str).tolist()
    ['2031-03-30T01:30:00']
    """
    zone = zone_of(name)
    slots, places = np.unique(wall.astype("datetime64[s]").astype(np.int64) // 900, return_inverse=True)
    first, second = (np.array([_offset_s(int(slot) * 900, zone, fold) for slot in slots]) for fold in (0, 1))
    repeated = np.flatnonzero((first > second)[places])
    missing = np.flatnonzero((first < second)[places])
    offset_s = first[places].astype(np.int64)
    later = repeated[_after_step_back(wall, repeated)]
    offset_s[later] = second[places[later]]
    return Running(wall.astype("datetime64[s]") - offset_s.astype("timedelta64[s]"), repeated, missing)


def _offset_s(wall_s: int, zone: ZoneInfo, fold: int) -> int:
    shown = np.datetime64(wall_s, "s").item()
    offset = datetime.combine(shown.date(), shown.time(), zone).replace(fold=fold).utcoffset()
    return 0 if offset is None else int(offset.total_seconds())


def _after_step_back(wall: NDArray[np.datetime64], chosen: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Which of the chosen places, a run of neighbours each, lie after a step back of the clock."""
    if chosen.size == 0:
        return np.zeros(0, bool)
    falling = falls(wall)
    places = chosen[::-1] if falling else chosen
    apart = np.diff(places, prepend=places[0]) * (-1 if falling else 1) > 1
    back = np.diff(wall[places], prepend=wall[places[0]]) < np.timedelta64(0, "s")
    steps = np.cumsum(back & ~apart)
    run_start = np.maximum.accumulate(np.where(apart, np.arange(places.size), 0))
    after = steps > steps[run_start]
    return after[::-1] if falling else after


def falls(wall: NDArray[np.datetime64]) -> bool:
    """Whether the newest reading stands first."""
    steps = np.sign(np.diff(wall).astype(np.int64))
    return bool(steps.sum() < 0)


def steps_back(wall: NDArray[np.datetime64], numbers: NDArray[np.float64]) -> NDArray[np.intp]:
    """Places at which a clock that otherwise runs on was put back by half an hour to two hours.

    Only a list in order, with few such steps, can show them; in any other none is found. Rows that repeat an earlier
    one in time and number are no sign: two exports that overlap have them.
    """
    if _steps(wall).size == 0:
        return _NONE
    kept = _once(wall, numbers)
    return kept[_steps(wall[kept])]


def days_late(wall: NDArray[np.datetime64], numbers: NDArray[np.float64]) -> NDArray[np.intp]:
    """Places at which a list that otherwise runs on goes back by a day at most, as where a date changes after midnight.

    Rows that repeat an earlier one are no sign, as in `steps_back`.
    """
    kept = _once(wall, numbers)
    minutes = _minutes_on(wall[kept])
    back = np.flatnonzero(minutes < 0)
    if kept.size < _FEWEST_TO_SEE or back.size * _ROWS_A_STEP > kept.size or np.any(minutes[back] < -_DAY_MIN):
        return _NONE
    return kept[back + 1]


def _once(wall: NDArray[np.datetime64], numbers: NDArray[np.float64]) -> NDArray[np.intp]:
    """The rows in their order, each that repeats an earlier one in time and number left out."""
    rows = np.stack([wall.astype(np.int64).astype(np.float64), np.nan_to_num(numbers, nan=-1.0)], axis=1)
    _, kept = np.unique(rows, axis=0, return_index=True)
    return np.sort(kept)


def _minutes_on(wall: NDArray[np.datetime64]) -> NDArray[np.float64]:
    """Minutes from row to row, counted backwards in a list with the newest first."""
    return np.diff(wall).astype(np.int64) / 60 * (-1 if falls(wall) else 1)


def _steps(wall: NDArray[np.datetime64]) -> NDArray[np.intp]:
    if wall.size < _FEWEST_TO_SEE:
        return _NONE
    minutes = _minutes_on(wall)
    back = np.flatnonzero(minutes < 0)
    if back.size == 0 or back.size > 2 or not np.all((minutes[back] >= -120) & (minutes[back] <= -30)):
        return _NONE
    return back + 1
