"""A table → what its columns seem to be, and what only the person can say."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from msgspec.structs import replace

from pooling.errors import InvalidInput
from pooling.importing import words
from pooling.importing.clock import steps_back
from pooling.importing.columns import Look, look, roles_of, sample_of
from pooling.importing.headers import SEARCHED_ROWS, first_reading, header_before
from pooling.importing.moments import orders_left
from pooling.importing.remarks import remarks
from pooling.importing.rows import Rows
from pooling.importing.table import Table, column_of
from pooling.importing.typed import start_asked
from pooling.importing.types import NUMBER, ColumnMapping, Proposal, Question, Sheet
from pooling.importing.units import BOUNDS, outside, unit_of
from pooling.importing.values import has_decimal_comma

_SAMPLED_ROWS = 300
_PREVIEWED_ROWS = 5
_PREVIEWED_CELL = 40
_DENSE_MIN, _SPARSE_MIN = 20.0, 45.0
_READINGS = ("sensor", "reference", "glucose", "replicate")


def propose(sheet: Sheet) -> Proposal:
    """What each column seems to be, from its cells and from header words in nine languages.

    Nothing is guessed where the person knows better: what stays open is a question, and the mapping has None there (or
    the likelier choice, for roles and kind). The preview holds the header (empty without one) and the first rows, all
    columns, in the order of `mapping.roles`.

    Raises
    ------
    InvalidInput
        If no row looks like a reading.

    Examples
    --------
    >>> from pooling.importing import open_file
    >>> sheet, = open_file("Datum;Uhrzeit;Fingerstich mmol/l\\n01.03.2031;8:05;5,4\\n01.03.2031;12:10;7,1\\n".encode())
    >>> proposal = propose(sheet)
    >>> proposal.mapping.kind, proposal.mapping.roles, proposal.mapping.glucose_unit, proposal.questions
    ('meter', ('date', 'time_of_day', 'reference'), 'mmol/L', ())
    """
    draft = _draft(sheet)
    table, questions = Table(sheet, draft.mapping), _role_questions(draft)
    for step in (_with_date_order, partial(_with_unit, draft), _with_kind):
        mapping, asked = step(table)
        table = Table(sheet, mapping)
        questions += asked
    questions += _clock_questions(table)
    if not any(question.blocking for question in questions):
        questions += remarks(sheet, table.mapping)
    return Proposal(table.mapping, tuple(questions), _preview(draft))


@dataclass(frozen=True, slots=True)
class _Draft:
    """A sheet with its header found and its columns looked at."""

    sheet: Sheet
    mapping: ColumnMapping
    looks: tuple[Look, ...]
    choices: tuple[tuple[int, ...], ...]
    start: int
    header: tuple[str, ...]


def _draft(sheet: Sheet) -> _Draft:
    start = first_reading(sheet.rows)
    if start is None:
        raise InvalidInput(
            f"no row of the first {min(len(sheet.rows), SEARCHED_ROWS)} has a time and a reading side by side; "
            "export a table with one reading a row, or take out what stands before it"
        )
    header_place = header_before(sheet.rows, start)
    header = sheet.rows[header_place] if header_place is not None else ()
    below = sheet.rows[start:]
    width = below.widest if isinstance(below, Rows) else max(map(len, below))
    header = (*header[:width], *[""] * (width - len(header)))
    between = sheet.rows[header_place + 1 : start] if header_place is not None else ()
    titles = [" ".join((header[k], *(row[k] for row in between if k < len(row)))) for k in range(width)]
    looks = tuple(
        look(title, cells) for title, cells in zip(titles, sample_of(below, width, _SAMPLED_ROWS), strict=True)
    )
    roles, choices = roles_of(looks)
    comma = any(has_decimal_comma(column_of(below, k)) for k, role in enumerate(roles) if role in _READINGS)
    mapping = ColumnMapping(
        kind="sensor",
        header_line=None if header_place is None else sheet.lines[header_place],
        roles=tuple(roles),
        glucose_unit=None,
        date_order=None,
        decimal="," if comma else ".",
        time_zone=None,
        header_hash_input=_layout(header, looks),
    )
    return _Draft(sheet, mapping, looks, tuple(choices), start, header)


def _layout(header: tuple[str, ...], looks: Sequence[Look]) -> tuple[str, ...]:
    """Header words; of a table without a header, what its columns hold."""
    named = tuple(" ".join(words.words_in(cell)) for cell in header)
    return named if any(named) else tuple(seen.content for seen in looks)


def _role_questions(draft: _Draft) -> list[Question]:
    questions = []
    for choice in draft.choices:
        names = tuple(draft.header[k].strip() or f"column {k + 1}" for k in choice)
        questions.append(Question("roles", "Which of these columns is meant? They look alike.", names, ()))
    roles = set(draft.mapping.roles)
    if not ({"moment", "elapsed"} & roles or {"date", "time_of_day"} <= roles):
        questions.append(
            Question("roles", "Which column says when each reading was taken? None looks like it.", (), ())
        )
    if not {"sensor", "reference", "glucose"} & roles and not draft.choices:
        questions.append(Question("roles", "Which column holds the readings? None looks like it.", (), ()))
    return questions


def _with_date_order(table: Table) -> tuple[ColumnMapping, list[Question]]:
    mapping = table.mapping
    for role in ("moment", "date", "inserted"):
        if (column := table.place(role)) is None:
            continue
        orders = orders_left(parts := table.parts(column))
        if len(orders) > 1:
            lines = tuple(table.lines[parts.open_order][:10].tolist())
            text = "Which stands first in the dates, day, month or year? All of them can be read in more than one way."
            return mapping, [Question("date_order", text, orders, lines)]
        if parts.open_order.any():
            return replace(mapping, date_order=orders[0]), []
    return replace(mapping, date_order="year_first"), []


def _with_unit(draft: _Draft, table: Table) -> tuple[ColumnMapping, list[Question]]:
    mapping = table.mapping
    places = [k for k, role in enumerate(mapping.roles) if role in _READINGS]
    if not places:
        return mapping, []
    told = {draft.looks[k].unit for k in places} - {None}
    if not told:
        elsewhere = [seen.unit for seen in draft.looks if seen.content in ("words", "empty")]
        before = [words.unit_in(cell) for row in draft.sheet.rows[: draft.start] for cell in row]
        told = set(elsewhere) - {None} or set(before) - {None}
    numbers = np.concatenate([table.read(k).number for k in places])
    seen = unit_of(numbers)
    named = told.pop() if len(told) == 1 else None
    lines = _odd_lines(table, places, named or seen)
    if named and not (seen and seen != named):
        return replace(mapping, glucose_unit=named), []
    if seen and not named:
        return replace(mapping, glucose_unit=seen), []
    if named:
        text = f"Are the readings in mg/dL or in mmol/L? The file says {named}, and its numbers look like {seen}."
    elif lines:
        text = "Are the readings in mg/dL or in mmol/L? Some lines look like the one, others like the other."
    else:
        text = "Are the readings in mg/dL or in mmol/L? All of them could be either."
    return mapping, [Question("glucose_unit", text, tuple(BOUNDS), lines)]


def _odd_lines(table: Table, places: Sequence[int], unit: str | None) -> tuple[int, ...]:
    """Lines whose readings cannot be in the unit; without one, the rarer of the two magnitudes."""
    numbers = np.stack([table.read(k).number for k in places])
    odd = [outside(numbers, one).any(axis=0) for one in ([unit] if unit else BOUNDS)]
    return tuple(table.lines[min(odd, key=np.count_nonzero)][:10].tolist())


def _with_kind(table: Table) -> tuple[ColumnMapping, list[Question]]:
    mapping, roles = table.mapping, set(table.mapping.roles)
    if {"sensor", "reference"} <= roles:
        filled = [table.read(mapping.roles.index(role)).kind >= NUMBER for role in ("sensor", "reference")]
        together = int((filled[0] & filled[1]).sum())
        typed = 2 * together > min(int(column.sum()) for column in filled) and 2 * together > int(filled[0].sum())
        return replace(mapping, kind="typed" if typed else "sensor"), []
    if "sensor" in roles or "instrument" in roles:
        return replace(mapping, kind="sensor"), []
    if "reference" in roles:
        return replace(mapping, kind="meter"), []
    step_min = _usual_step_min(table)
    if step_min is not None and step_min <= _DENSE_MIN:
        return replace(mapping, kind="sensor"), []
    if step_min is not None and step_min >= _SPARSE_MIN:
        return replace(mapping, kind="meter"), []
    return mapping, [Question("kind", "Are these readings of the sensor or fingersticks?", ("sensor", "meter"), ())]


def _usual_step_min(table: Table) -> float | None:
    """Median minutes from reading to reading; the order of day and month makes no difference to it."""
    mapping = table.mapping if table.mapping.date_order else replace(table.mapping, date_order="day_first")
    try:
        times = Table(table.sheet, mapping).times()
    except InvalidInput:
        return None
    times = np.sort(times[~np.isnat(times)])
    return float(np.median(np.diff(times).astype(np.int64))) / 60 if times.size > 2 else None


def _clock_questions(table: Table) -> list[Question]:
    mapping = table.mapping
    if asked := start_asked(mapping):
        return list(asked)
    column = table.place("sensor", "glucose")
    if mapping.kind != "sensor" or column is None:
        return []
    try:
        times = table.times()
    except InvalidInput:
        return []
    there = np.flatnonzero(~np.isnat(times))
    back = table.lines[there[steps_back(times[there], table.read(column).number[there])]]
    if not back.size:
        return []
    text = "In which time zone was the wear? The clock goes back, so an hour stands in the file twice."
    return [Question("time_zone", text, (), tuple(back.tolist()))]


def _preview(draft: _Draft) -> tuple[tuple[str, ...], ...]:
    width = len(draft.mapping.roles)
    shown = (draft.header, *draft.sheet.rows[draft.start : draft.start + _PREVIEWED_ROWS])
    return tuple(tuple(cell.strip()[:_PREVIEWED_CELL] for cell in (*row, *[""] * (width - len(row)))) for row in shown)
