"""What was settled without asking, and should be said."""

import numpy as np
from numpy.typing import NDArray

from pooling.errors import InvalidInput
from pooling.importing.clock import Running, days_late
from pooling.importing.moments import NO_OFFSET
from pooling.importing.table import Table
from pooling.importing.types import NUMBER, ColumnMapping, Question, Sheet


def remarks(sheet: Sheet, mapping: ColumnMapping) -> tuple[Question, ...]:
    """What the person should know of how the clock of this table is read; none of it blocks.

    It is worth asking again whenever the mapping was changed: which hours are doubtful depends on the time zone.
    """
    table = Table(sheet, mapping)
    column = table.place("moment", "time_of_day")
    if column is None:
        return ()
    said = []
    parts = table.parts(column)
    told = parts.offset_min[(parts.offset_min != NO_OFFSET) & parts.timed]
    if mapping.time_zone is None and np.unique(told).size > 1:
        said.append(
            _remark("The offset from UTC changes in the file; all times are told with the first.", table.lines[:0])
        )
    try:
        running = table.clock
    except InvalidInput:
        return tuple(said)
    if (late := _days_late(table, running)).size:
        text = (
            "The times go back here, though the rows otherwise run on. They are put in order of time; if the date "
            "changes too late at midnight, or the clock was set, correct these rows first."
        )
        said.append(_remark(text, late, code="moment"))
    if mapping.time_zone is not None:
        if running.repeated.size:
            text = (
                "The clock showed this hour twice. Readings before the step back count as the first pass, those after "
                "it as the second; without a step back all count as the first."
            )
            said.append(_remark(text, table.lines[running.repeated]))
        if running.missing.size:
            text = "The clock should have left out this hour; it is read as a clock that was not yet put forward."
            said.append(_remark(text, table.lines[running.missing]))
    return tuple(said)


def _days_late(table: Table, running: Running) -> NDArray[np.int64]:
    """Lines at which the times of the readings go back by a day at most."""
    column = table.place("sensor", "glucose", "reference")
    if column is None:
        return table.lines[:0]
    read = table.read(column)
    there = np.flatnonzero(~np.isnat(running.time) & (read.kind >= NUMBER))
    return table.lines[there[days_late(running.time[there], read.number[there])]]


def _remark(text: str, lines: NDArray[np.int64], *, code: str = "time_zone") -> Question:
    return Question(code, text, (), tuple(lines[:10].tolist()), blocking=False)
