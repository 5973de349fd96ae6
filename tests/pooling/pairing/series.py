"""Short ways to write down what two instruments showed, in minutes after insertion."""

import numpy as np

from pooling.importing.types import ABOVE, BELOW, NUMBER, Series

START = np.datetime64("2031-03-01T08:00:00", "s")
END = START + np.timedelta64(10, "D")


def series(*readings, first_line=2, start=START):
    """From (minute, mg/dL or "below" or "above")."""
    marks = {"below": BELOW, "above": ABOVE}
    minute = np.array([reading[0] for reading in readings], dtype=np.float64)
    return Series(
        start + np.round(60 * minute).astype("timedelta64[s]"),
        np.array([np.nan if value in marks else value for _, value in readings], dtype=np.float64),
        np.array([marks.get(value, NUMBER) for _, value in readings], dtype=np.int8),
        np.arange(first_line, first_line + len(readings)),
    )


def steady(*minutes, value=100.0):
    return series(*((minute, value) for minute in minutes))
