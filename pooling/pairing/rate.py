"""How fast the sensor's reading was moving at each fingerstick."""

import numpy as np

from pooling.pairing.readings import Flags, Floats, Ints, Readings

HALF_WINDOW_MIN = 7.5
MOST_MG_DL_MIN = 20.0
"""What a record may hold; anything beyond is a fault of the trace and no rate."""


def rates(at_s: Ints, trace: Readings, *, before_only: bool) -> Floats:
    """Least-squares slope of the trace about each moment, in mg/dL a minute.

    Claim: the slope over the readings within 7.5 minutes either side, or within 15 minutes before where later readings
    may not speak; within one spacing either side (two before) where the trace is coarser than that.

    Assumptions: the trace is close to a straight line over a quarter of an hour.

    Parameters
    ----------
    at_s : ndarray of int, shape (n_moments,)
        Seconds since insertion.
    trace : Readings
        In order of time.
    before_only : bool
        Leave out readings from after the moment.

    Returns
    -------
    ndarray of float64, shape (n_moments,)
        NaN where a reading of the window was out of range, where the readings span less than half of it, and beyond
        20 mg/dL a minute either way.

    Notes
    -----
    A slope over a quarter of an hour and not a difference of neighbours, since a reading's own noise of a few mg/dL
    would look like a rate of one. Common practice, no source.
    """
    if not len(trace) or not at_s.size:
        return np.full(at_s.size, np.nan)
    half_s = round(60 * max(HALF_WINDOW_MIN, trace.spacing_min if len(trace) > 1 else 0.0))
    start, end = (at_s - 2 * half_s, at_s) if before_only else (at_s - half_s, at_s + half_s)
    low = np.searchsorted(trace.second, start, side="left")
    high = np.searchsorted(trace.second, end, side="right")
    place = low[:, None] + np.arange(max(1, int((high - low).max())))
    inside = place < high[:, None]
    place = np.minimum(place, len(trace) - 1)
    minute = np.where(inside, (trace.second[place] - at_s[:, None]) / 60, np.nan)
    value = np.where(inside, trace.mg_dl[place], 0.0)
    whole = high - low >= 2
    found = np.full(at_s.size, np.nan)
    found[whole] = _slopes(minute[whole], value[whole], inside[whole], half_s / 60)
    return np.where(np.abs(found) <= MOST_MG_DL_MIN, found, np.nan)


def _slopes(minute: Floats, value: Floats, inside: Flags, shortest_span_min: float) -> Floats:
    count = inside.sum(axis=1, keepdims=True)
    centred = np.where(inside, minute - np.nansum(minute, axis=1, keepdims=True) / count, 0.0)
    squares = (centred**2).sum(axis=1)
    wide = np.nanmax(minute, axis=1) - np.nanmin(minute, axis=1) >= shortest_span_min
    slope = (centred * value).sum(axis=1) / np.where(squares > 0, squares, 1.0)
    return np.where(wide & (squares > 0), slope, np.nan)
