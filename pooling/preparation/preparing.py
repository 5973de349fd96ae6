"""One round of a preparation: files and answers in; wears, or what is still to be answered, out."""

from collections.abc import Mapping, Sequence
from typing import Any

import msgspec

from pooling.importing import Question
from pooling.preparation.given import Answers, Asked, Export, Prepared, PreparedWear
from pooling.preparation.tables import Table, opened
from pooling.preparation.wears import paired_wear, typed_wears
from pooling.record import FORMAT
from pooling.vocabulary import PROMPTS


def prepare(exports: Sequence[Export], answers: Answers | None = None) -> Prepared:
    """Read exports, pair fingersticks with the trace, and say what looks odd and what is still to be answered.

    Takes a sensor's trace and a meter's fingersticks (two files, or one that holds both) for one wear, and tables of
    typed pairs for any number of wears. Ask again with the answers and confirmed mappings until `is_complete`.

    Parameters
    ----------
    exports
        The files.
    answers
        What the person has told so far.

    Returns
    -------
    Prepared
        Without wears as long as a question stops them from being read. An offset of the clocks is asked about beside
        wears that are paired without it.

    Raises
    ------
    FileInvalid
        If a file cannot be read so. No message holds a reading.
    InvalidInput
        If two files are traces or two are fingersticks; or as `pooling.pairing.pair`.

    Examples
    --------
    >>> rows = ["day;fingerstick mg/dl;sensor mg/dl", "01.03.2031 08:00;112;98", "13.03.2031 12:00;141;150"]
    >>> prepare([Export("\\n".join(rows).encode())]).questions
    (Asked(0, 'inserted'),)
    """
    answers = answers or Answers()
    read = [opened(place, export) for place, export in enumerate(exports)]
    proposals = tuple(proposal for _, proposal, _ in read)
    asked = tuple(
        Asked(place, question)
        for place, (_, _, questions) in enumerate(read)
        for question in questions
        if not (question.code == "inserted" and answers.inserted is not None)
    )
    if any(each.question.blocking for each in asked):
        return Prepared(proposals, asked, ())
    wears, more = _wears([table for table, _, _ in read if table is not None], answers)
    return Prepared(proposals, (*asked, *(Asked(None, question) for question in more)), wears)


def _wears(tables: Sequence[Table], answers: Answers) -> tuple[tuple[PreparedWear, ...], tuple[Question, ...]]:
    typed = [table for table in tables if table.mapping.kind == "typed"]
    instruments = [table for table in tables if table.mapping.kind != "typed"]
    wears = [wear for table in typed for wear in typed_wears(table, answers)]
    asked: tuple[Question, ...] = ()
    if instruments:
        wear, asked = paired_wear(instruments, answers)
        wears += [wear] if wear is not None else []
    return tuple(wears), (*asked, *_left_open(wears, answers))


def _left_open(wears: Sequence[PreparedWear], answers: Answers) -> tuple[Question, ...]:
    """What a record wants to know and the files do not say; the wears stand without it."""
    asked = []
    if any(wear.worn_min is None for wear in wears):
        text = "How long was the sensor worn? The table does not say when the wear ended."
        asked.append(Question("worn_min", text, (), (), blocking=False))
    if answers.prompt is None and any(
        wear.pairs and all(one.prompt == "other" for one in wear.pairs) for wear in wears
    ):
        text = "Why were the fingersticks taken? The files do not say; one answer for all of them."
        asked.append(Question("prompt", text, PROMPTS, (), blocking=False))
    return tuple(asked)


def draft_record(wear: PreparedWear, told: Mapping[str, Any]) -> dict[str, Any]:
    """A `wear-record/1` from a prepared wear and what the person says about it, for `pooling.record.record_from`.

    What nobody has told is left out, so that checking the record names it.

    Parameters
    ----------
    wear
        One of `Prepared.wears`.
    told
        Fields of the record: sensor_model, site, end_reason, assignment, skin, and so on. What the files say of this
        one wear, its site and its length, goes before them: they are told for all wears of the files.
    """
    known = {
        "format": FORMAT,
        "glucose_unit": wear.glucose_unit,
        "calibrated": wear.calibrated,
        "meter_class": wear.meter_class,
    }
    own = {"site": wear.site, "worn_min": wear.worn_min}
    own = {name: value for name, value in own.items() if value is not None}
    return known | dict(told) | own | {"pairs": [msgspec.to_builtins(one) for one in wear.pairs]}
