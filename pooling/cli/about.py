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

import msgspec

from pooling.cli.exits import Exit, Stop
from pooling.cli.records import read_bytes
from pooling.cli.terminal import Terminal
from pooling.importing import Question
from pooling.preparation import Answers
from pooling.vocabulary import (
    ASSIGNMENTS,
    END_REASONS,
    EXPOSED,
    METER_CLASSES,
    PINCH,
    PREPARED,
    PROMPTS,
    SIDES,
    SITES,
    SKIN_GRADES,
    SKIN_SIGNS,
    label,
)

Said = dict[str, str]

MOMENT_FORM = "2031-02-10 08:30"
_MORE = "A few more questions, on skin, comfort and circumstances? Each may be left open, and each helps the pool."
YES, NO = "yes", "no"


@dataclass(frozen=True, slots=True)
class Asked:
    """One question: the field it fills, how it is put, and what may be answered (anything, where there is no list).

    `several` answers to one question are written with commas between them.
    """

    field: str
    question: str
    choices: Mapping[str, str] | None = None
    required: bool = True
    several: bool = False

    @property
    def option(self) -> str:
        return "--" + self.field.removesuffix("_min").replace("_", "-")


def _labelled(words: Sequence[str]) -> dict[str, str]:
    return {word: label(word) for word in words}


_YES_OR_NO = {YES: "", NO: ""}
_GRADES = {str(grade): text for grade, text in enumerate(SKIN_GRADES)}
_FROM_0_TO_10 = {str(number): "" for number in range(11)}

ASKED = (
    Asked("inserted", f"When was the sensor inserted, by its own clock (such as {MOMENT_FORM})"),
    Asked("ended", "When did the wear end, by the same clock"),
    Asked("worn_min", "How long was it worn (such as 13.5d, 320h or 19440min)"),
    Asked("calibrated", "Was the sensor calibrated with fingersticks", _YES_OR_NO),
    Asked("prompt", "Why were the fingersticks mostly taken", _labelled(PROMPTS)),
    Asked("meter_class", "How accurate is the meter, by its leaflet", _labelled(METER_CLASSES), required=False),
    Asked("sensor_model", "Which sensor model was it, by its short name in the server's list (such as demo-a14)"),
    Asked("site", "Where did it sit", _labelled(SITES)),
    Asked("side", "On which side", _labelled(SIDES), required=False),
    Asked("end_reason", "How did the wear end", _labelled(END_REASONS)),
    Asked("assignment", "How was the site picked", _labelled(ASSIGNMENTS)),
    Asked("skin_grade", "How did the skin take it", _GRADES, required=False),
    Asked("skin_signs", "What was seen or felt", _labelled(SKIN_SIGNS), required=False, several=True),
    Asked("ease", "How easy was it to place, 0 worst to 10 best", _FROM_0_TO_10, required=False),
    Asked("comfort", "How comfortable was it to wear, 0 worst to 10 best", _FROM_0_TO_10, required=False),
    Asked("discretion", "How little did it show, 0 worst to 10 best", _FROM_0_TO_10, required=False),
    Asked("prepared", "What was done to the spot first", _labelled(PREPARED), required=False, several=True),
    Asked("pinch", "How thick is a pinch of skin there", _labelled(PINCH), required=False),
    Asked("exposed", "What did the spot go through", _labelled(EXPOSED), required=False, several=True),
    Asked(
        "near_insulin_site", "Was insulin given closer to it than the instructions allow", _YES_OR_NO, required=False
    ),
    Asked("interferent", "Was a substance taken that the instructions warn of", _YES_OR_NO, required=False),
)
OPTIONAL = tuple(asked.field for asked in ASKED if not asked.required and asked.field not in {"side", "meter_class"})
"""Asked only of who is willing to say more."""
_BY_FIELD = {asked.field: asked for asked in ASKED}
_SLUG = re.compile("[a-z0-9]+(-[a-z0-9]+)*")
_LENGTH = re.compile(r"(\d+(?:\.\d+)?)\s*(d|h|min)[a-z]*")
_MINUTES = {"d": 1440, "h": 60, "min": 1}
_RATINGS = ("ease", "comfort", "discretion")
_AS_SAID = ("sensor_model", "site", "side", "end_reason", "assignment")


def fault_of(field: str, answer: str) -> str | None:
    """What is wrong with an answer, or None."""
    asked = _BY_FIELD[field]
    if asked.choices is not None:
        chosen = answer.split(",") if asked.several else [answer]
        how_many = "one or several" if asked.several else "one"
        return None if set(chosen) <= set(asked.choices) else f"choose {how_many} of: {', '.join(asked.choices)}"
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
        return _asked(said, still_open, terminal, offered)
    if missing := [_how_to_say(asked, offered.get(asked.field)) for asked in still_open if asked.required]:
        raise Stop(Exit.USAGE, "\n".join(["Still to be said, since there is no terminal to ask at:", *missing]))
    return said


def _how_to_say(asked: Asked, offer: Question | None) -> str:
    """An option with its question and what may be answered."""
    if offer and offer.options:
        return f"{asked.option}: {offer.text} {', '.join(map(_as_read, offer.options))}"
    return f"{asked.option}: {asked.question}? {', '.join(asked.choices or ())}".rstrip()


def _as_read(time: str) -> str:
    return time.replace("T", " ")


def _asked(said: Said, still_open: Sequence[Asked], terminal: Terminal, offered: Mapping[str, Question]) -> Said:
    """The answers of the person, one after the other; what may be left open only from who is willing to say more."""
    said, willing = dict(said), None
    for asked in still_open:
        if asked.field in OPTIONAL:
            if willing is None:
                willing = terminal.choose(_MORE, _YES_OR_NO) == YES
            if not willing or (asked.field == "skin_signs" and said.get("skin_grade", "0") == "0"):
                continue
        if answer := _ask(asked, terminal, offered.get(asked.field)):
            said[asked.field] = answer
    return said


def _ask(asked: Asked, terminal: Terminal, offer: Question | None) -> str:
    """Put one question until the answer fits; an optional one may be left open with an empty line."""
    if asked.choices is not None:
        choose = terminal.choose_several if asked.several else terminal.choose
        return choose(f"{asked.question}?", asked.choices, optional=not asked.required)
    offers = {str(number): time for number, time in enumerate(offer.options, 1)} if offer else {}
    terminal.note()
    terminal.note(offer.text if offer else f"{asked.question}?")
    for number, time in offers.items():
        terminal.note(f"  {number:>2}  {_as_read(time)}")
    hint = _hint(asked.field, offers)
    while True:
        typed = terminal.ask(hint)
        answer = offers.get(typed, typed)
        fault = fault_of(asked.field, answer)
        if fault is None:
            return answer
        terminal.note(f"Please {fault}.")


def _hint(field: str, offers: Collection[str]) -> str:
    if offers:
        return f"Number, or another time such as {MOMENT_FORM}"
    if field == "inserted":
        return f"Date and time such as {MOMENT_FORM}; of several wears, with commas between them"
    return f"Date and time such as {MOMENT_FORM}" if field == "ended" else "Answer"


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
    known = {
        "inserted": inserted[0] if inserted else None,
        "further_inserted": tuple(inserted[1:]),
        "ended": _moment(said.get("ended", "")),
        "worn_min": _minutes(said),
        "calibrated": said.get("calibrated") == YES,
        "meter_class": said.get("meter_class", "unknown"),
        "prompt": said.get("prompt"),
    }
    return msgspec.convert(known | more, Answers)


def _minutes(said: Said) -> int | None:
    found = _LENGTH.fullmatch(said.get("worn_min", ""))
    return round(float(found[1]) * _MINUTES[found[2]]) if found else None


def told_of(said: Said, fields: Mapping[str, Any], *, rated_by: str) -> dict[str, Any]:
    """Fields of the record but its pairs: what was said goes before what the file holds."""
    told = dict(fields) | {field: said[field] for field in _AS_SAID if field in said}
    if "worn_min" in said:
        told["worn_min"] = _minutes(said)
    if "skin_grade" in said:
        told["skin"] = {"grade": int(said["skin_grade"]), "signs": _listed(said, "skin_signs")}
    ratings = {name: int(said[name]) for name in _RATINGS if name in said}
    if ratings:
        told["ratings"] = ratings | {"rated_by": rated_by}
    if conditions := _conditions(said):
        held = fields.get("conditions")
        told["conditions"] = (held if isinstance(held, dict) else {}) | conditions
    return told


def _conditions(said: Said) -> dict[str, Any]:
    lists = {name: _listed(said, name) for name in ("prepared", "exposed") if name in said}
    truths = {name: said[name] == YES for name in ("near_insulin_site", "interferent") if name in said}
    return lists | truths | {name: said[name] for name in ("pinch",) if name in said}


def _listed(said: Said, field: str) -> list[str]:
    return said[field].split(",") if field in said else []
