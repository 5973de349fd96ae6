"""What only the wearer can say of a wear: as options, from a file, or asked at the terminal.

Each entry of `ASKED` is one field of the wear record (or the two moments from which `worn_min` is worked out); the
options of `prepare`, the questions and the list of what is missing all come from here.
"""

import json
import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from pooling.cli.exits import Exit, Stop
from pooling.cli.records import read_bytes
from pooling.cli.terminal import Terminal
from pooling.importing import Question
from pooling.preparation import Answers
from pooling.vocabulary import (
    ASSIGNMENTS,
    END_REASONS,
    METER_CLASSES,
    PROMPTS,
    SIDES,
    SITES,
    SKIN_GRADES,
    label,
)

Said = dict[str, str]

MOMENT_FORM = "2031-02-10 08:30"
YES, NO = "yes", "no"


@dataclass(frozen=True, slots=True)
class Asked:
    """One question: the field it fills, how it is put, and what may be answered (anything, where there is no list)."""

    field: str
    question: str
    choices: Mapping[str, str] | None = None
    required: bool = True

    @property
    def option(self) -> str:
        return "--" + self.field.removesuffix("_min").replace("_", "-")


def _labelled(words: Sequence[str]) -> dict[str, str]:
    return {word: label(word) for word in words}


_GRADES = {str(grade): text for grade, text in enumerate(SKIN_GRADES)}
_FROM_0_TO_10 = {str(number): "" for number in range(11)}

ASKED = (
    Asked("inserted", f"When was the sensor inserted, by its own clock (such as {MOMENT_FORM})"),
    Asked("ended", "When did the wear end, by the same clock"),
    Asked("worn_min", "How long was it worn (such as 13.5d, 320h or 19440min)"),
    Asked("calibrated", "Was the sensor calibrated with fingersticks", {YES: "", NO: ""}),
    Asked("prompt", "Why were the fingersticks mostly taken", _labelled(PROMPTS)),
    Asked("meter_class", "How accurate is the meter, by its leaflet", _labelled(METER_CLASSES), required=False),
    Asked("sensor_model", "Which sensor model was it, by its short name in the server's list (such as demo-a14)"),
    Asked("site", "Where did it sit", _labelled(SITES)),
    Asked("side", "On which side", _labelled(SIDES), required=False),
    Asked("end_reason", "How did the wear end", _labelled(END_REASONS)),
    Asked("assignment", "How was the site picked", _labelled(ASSIGNMENTS)),
    Asked("skin_grade", "How did the skin take it", _GRADES, required=False),
    Asked("ease", "How easy was it to place, 0 worst to 10 best", _FROM_0_TO_10, required=False),
    Asked("comfort", "How comfortable was it to wear, 0 worst to 10 best", _FROM_0_TO_10, required=False),
    Asked("discretion", "How little did it show, 0 worst to 10 best", _FROM_0_TO_10, required=False),
)
_BY_FIELD = {asked.field: asked for asked in ASKED}
_SLUG = re.compile("[a-z0-9]+(-[a-z0-9]+)*")
_LENGTH = re.compile(r"(\d+(?:\.\d+)?)\s*(d|h|min)")
_MINUTES = {"d": 1440, "h": 60, "min": 1}
_RATINGS = ("ease", "comfort", "discretion")
_AS_SAID = ("sensor_model", "site", "side", "end_reason", "assignment")


def fault_of(field: str, answer: str) -> str | None:
    """What is wrong with an answer, or None."""
    choices = _BY_FIELD[field].choices
    if choices is not None:
        return None if answer in choices else f"choose one of: {', '.join(choices)}"
    if field == "inserted":
        return None if all(map(_moment, answer.split(","))) else f"write date and time as {MOMENT_FORM}"
    if field == "ended":
        return None if _moment(answer) else f"write date and time as {MOMENT_FORM}"
    if field == "worn_min":
        return None if _LENGTH.fullmatch(answer) else "write a number with d, h or min, such as 13.5d"
    return None if _SLUG.fullmatch(answer) else "write small letters, digits and single hyphens, such as demo-a14"


def _moment(text: str) -> datetime | None:
    """A time as a clock shows it; an offset from UTC is none."""
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError:
        return None
    return None if moment.tzinfo else moment


def checked(given: Mapping[str, str | None]) -> Said:
    """The answers that were given as options.

    Raises
    ------
    Stop
        For the first that cannot be.
    """
    said = {field: answer for field, answer in given.items() if answer is not None}
    for field, answer in said.items():
        if fault := fault_of(field, answer):
            raise Stop(Exit.USAGE, f"{_BY_FIELD[field].option} {answer}: {fault}")
    return said


def gather(said: Said, fields: Collection[str], terminal: Terminal, *, offered: Mapping[str, Question]) -> Said:
    """What was said, and what is asked for of these fields; `offered` are times to choose from.

    Raises
    ------
    Stop
        Where nobody is there to ask, for all that is missing at once.
    """
    still_open = [asked for asked in ASKED if asked.field in fields and asked.field not in said]
    if terminal.can_ask:
        answers = {asked.field: _ask(asked, terminal, offered.get(asked.field)) for asked in still_open}
        return said | {field: answer for field, answer in answers.items() if answer}
    if missing := [asked.option for asked in still_open if asked.required]:
        raise Stop(Exit.USAGE, f"Still to be said, since there is no terminal to ask at: {', '.join(missing)}")
    return said


def _ask(asked: Asked, terminal: Terminal, offer: Question | None) -> str:
    """Put one question until the answer fits; an optional one may be left open with an empty line."""
    if asked.choices is not None:
        return terminal.choose(f"{asked.question}?", asked.choices, optional=not asked.required)
    offers = {str(number): time for number, time in enumerate(offer.options, 1)} if offer else {}
    terminal.note()
    terminal.note(offer.text if offer else f"{asked.question}?")
    for number, time in offers.items():
        terminal.note(f"  {number:>2}  {time.replace('T', ' ')}")
    hint = f"Number, or another time such as {MOMENT_FORM}" if offers else "Answer"
    while True:
        typed = terminal.ask(hint)
        answer = offers.get(typed, typed)
        fault = fault_of(asked.field, answer)
        if fault is None:
            return answer
        terminal.note(f"Please {fault}.")


# ---- into the record -------------------------------------------------------------------------------------------------


def read_header(name: str | None) -> dict[str, Any]:
    """Fields of a record from a file, for what has no option of its own; empty without one.

    Raises
    ------
    Stop
        If the file cannot be read or is no JSON object.
    """
    if name is None:
        return {}
    try:
        content = json.loads(read_bytes(name))
    except ValueError:
        content = None
    if not isinstance(content, dict):
        raise Stop(Exit.UNREADABLE, f"{name}: this holds no fields of a wear record; write a JSON object of them.")
    return content


def said_in(fields: Mapping[str, Any]) -> Said:
    """What such a file says of the questions asked here; whether it may be, checking the record tells."""
    said = {field: str(fields[field]) for field in (*_AS_SAID, "meter_class") if isinstance(fields.get(field), str)}
    if isinstance(fields.get("calibrated"), bool):
        said["calibrated"] = YES if fields["calibrated"] else NO
    if isinstance(fields.get("worn_min"), int):
        said["worn_min"] = f"{fields['worn_min']}min"
    return said


def answers_of(said: Said, **more: Any) -> Answers:
    """What the pairing needs to know."""
    inserted = [moment for text in said.get("inserted", "").split(",") if (moment := _moment(text))]
    return Answers(
        inserted=inserted[0] if inserted else None,
        further_inserted=tuple(inserted[1:]),
        ended=_moment(said.get("ended", "")),
        worn_min=_minutes(said),
        calibrated=said.get("calibrated") == YES,
        meter_class=said.get("meter_class", "unknown"),
        prompt=said.get("prompt"),
        **more,
    )


def _minutes(said: Said) -> int | None:
    found = _LENGTH.fullmatch(said.get("worn_min", ""))
    return round(float(found[1]) * _MINUTES[found[2]]) if found else None


def told_of(said: Said, fields: Mapping[str, Any], *, signs: Sequence[str], rated_by: str) -> dict[str, Any]:
    """Fields of the record but its pairs: what was said goes before what the file holds."""
    told = dict(fields) | {field: said[field] for field in _AS_SAID if field in said}
    if "worn_min" in said:
        told["worn_min"] = _minutes(said)
    if "skin_grade" in said:
        told["skin"] = {"grade": int(said["skin_grade"]), "signs": list(signs)}
    ratings = {name: int(said[name]) for name in _RATINGS if name in said}
    if ratings:
        told["ratings"] = ratings | {"rated_by": rated_by}
    return told
