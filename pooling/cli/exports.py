"""Export files, how each is read, and putting that right: by options, or by questions at the terminal."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import msgspec.structs

from pooling.cli.exits import Exit, Stop
from pooling.cli.records import read_bytes
from pooling.cli.terminal import Terminal
from pooling.errors import FileInvalid, InvalidInput
from pooling.importing import ROLES, ColumnMapping, Kind, Proposal, Question
from pooling.importing.clock import zone_of
from pooling.preparation import Answers, Export, Prepared, prepare
from pooling.vocabulary import GLUCOSE_UNITS, capitalised

ROLE_WORDS = {
    "moment": "date and time",
    "date": "date",
    "time_of_day": "time of day",
    "elapsed": "time since insertion",
    "sensor": "sensor reading",
    "reference": "fingerstick",
    "glucose": "reading",
    "replicate": "second strip",
    "prompt": "why the fingerstick was taken",
    "wear": "which wear it belongs to",
    "inserted": "when the sensor was inserted",
    "ended": "when the wear ended",
    "site": "site",
    "instrument": "sensor or fingerstick",
    "ignored": "not read",
}
KIND_WORDS = {"sensor": "the sensor's readings", "meter": "fingersticks", "typed": "typed pairs"}
ORDER_WORDS = {"day_first": "day before month", "month_first": "month before day", "year_first": "year first"}
_MOST_CELLS, _LONGEST_SHOWN = 3, 21
# Answered elsewhere: they are about the wear and not about how a file is read.
_OF_THE_WEAR = frozenset({"inserted", "ended", "file", "worn_min", "prompt", "apply_offset"})

Told = Mapping[tuple[str | None, str], str]


@dataclass(frozen=True, slots=True)
class Source:
    """An export under the name it was given by."""

    name: str
    export: Export


def sources_of(names: Sequence[str]) -> list[Source]:
    """The files; `book.xlsx#Sheet` is one sheet of a workbook.

    Raises
    ------
    Stop
        If one cannot be read.
    """
    return [_source(name) for name in names]


def _source(name: str) -> Source:
    file, _, sheet = (name, "", "") if Path(name).exists() else name.partition("#")
    return Source(name, Export(read_bytes(file), Path(file).name, sheet=sheet or None))


def told_by(options: Sequence[str], sources: Sequence[Source]) -> dict[tuple[str | None, str], str]:
    """Answers of the form CODE=VALUE for all files, or FILE:CODE=VALUE for one.

    Raises
    ------
    Stop
        If one has another form, or names a file that was not given.
    """
    told = {}
    for option in options:
        place, equals, value = option.partition("=")
        file, _, code = place.rpartition(":")
        if not equals or code not in _ANSWERS or (file and file not in {source.name for source in sources}):
            codes = ", ".join(_ANSWERS)
            raise Stop(Exit.USAGE, f"--answer {option}: write CODE=VALUE or FILE:CODE=VALUE; codes are {codes}")
        told[file or None, code] = value
    return told


def settled(sources: Sequence[Source], told: Told, terminal: Terminal) -> list[Source]:
    """The files with every question about how they are read answered, and shown.

    Raises
    ------
    Stop
        If a file cannot be read, an answer cannot be, or a question is open and nobody is there to answer.
    """
    sources = [_with_sheet(place, sources, terminal) for place in range(len(sources))]
    prepared = prepared_from(sources, Answers())
    return [
        _settled(source, proposal, _questions(prepared, place), told, terminal)
        for place, (source, proposal) in enumerate(zip(sources, prepared.proposals, strict=True))
        if proposal is not None
    ]


def prepared_from(sources: Sequence[Source], answers: Answers) -> Prepared:
    """A round of the preparation, its errors with the names of the files.

    Raises
    ------
    Stop
        If a file cannot be read, or answers do not fit.
    """
    try:
        return prepare([source.export for source in sources], answers)
    except FileInvalid as error:
        raise Stop(Exit.UNREADABLE, f"{sources[error.place].name}: {error.reason}.") from None
    except InvalidInput as error:
        raise Stop(Exit.USAGE, f"{capitalised(str(error))}.") from None


def _questions(prepared: Prepared, place: int) -> list[Question]:
    return [asked.question for asked in prepared.questions if asked.export == place]


# ---- one file --------------------------------------------------------------------------------------------------------


def _with_sheet(place: int, sources: Sequence[Source], terminal: Terminal) -> Source:
    source = sources[place]
    asked = [one for one in _questions(prepared_from([source], Answers()), 0) if one.code == "sheet"]
    if not asked:
        return source
    (question,) = asked
    if not terminal.can_ask:
        sheets = ", ".join(f"{source.name}#{name}" for name in question.options)
        raise Stop(Exit.USAGE, f"{source.name}: {question.text} Give one of {sheets}")
    sheet = terminal.choose(f"{source.name}: {question.text}", {name: name for name in question.options})
    return Source(f"{source.name}#{sheet}", replace(source.export, sheet=sheet))


def _settled(
    source: Source, proposal: Proposal, questions: Sequence[Question], told: Told, terminal: Terminal
) -> Source:
    mapping, answered = _with_told(source.name, proposal.mapping, told)
    still_open = [one for one in questions if one.blocking and one.code not in answered | _OF_THE_WEAR]
    if still_open and not terminal.can_ask:
        raise Stop(Exit.USAGE, "\n".join(_how_to_answer(source.name, question, mapping) for question in still_open))
    for question in still_open:
        mapping = _asked(source.name, mapping, proposal, question, terminal)
    _show(source.name, mapping, proposal, terminal)
    if terminal.can_ask:
        mapping = _corrected(mapping, proposal, terminal)
    confirmed = Source(source.name, replace(source.export, mapping=mapping))
    for remark in _questions(prepared_from([confirmed], Answers()), 0):
        if not remark.blocking:
            terminal.say(f"{remark.text}{_lines(remark)}", indent=4)
    return confirmed


def _with_told(name: str, mapping: ColumnMapping, told: Told) -> tuple[ColumnMapping, set[str]]:
    answered = set()
    for file in (None, name):
        for code in _ANSWERS:
            if (file, code) in told:
                mapping = _answered(mapping, code, told[file, code], name)
                answered.add(code)
    return mapping, answered


def _asked(
    name: str, mapping: ColumnMapping, proposal: Proposal, question: Question, terminal: Terminal
) -> ColumnMapping:
    terminal.note()
    if question.code == "roles":
        _show(name, mapping, proposal, terminal)
        terminal.note(question.text)
        return _corrected(mapping, proposal, terminal)
    text = f"{name}: {question.text}{_lines(question)}"
    if question.options:
        words = ORDER_WORDS | KIND_WORDS
        answer = terminal.choose(text, {option: words.get(option, option) for option in question.options})
        return _answered(mapping, question.code, answer, name)
    terminal.note(text)
    while True:
        try:
            return _answered(mapping, question.code, terminal.ask("Answer, such as Europe/Lisbon"), name)
        except Stop as stop:
            terminal.note(str(stop))


def _corrected(mapping: ColumnMapping, proposal: Proposal, terminal: Terminal) -> ColumnMapping:
    """Roles put right, column by column, until the person is content."""
    while True:
        typed = terminal.ask("Enter if that is right, or the number of a column that is read wrongly")
        if not typed:
            return mapping
        if typed.isdigit() and 1 <= int(typed) <= len(mapping.roles):
            place = int(typed) - 1
            role = terminal.choose(f"What is column {typed}, {_head(proposal, place)}?", ROLE_WORDS)
            roles = (*mapping.roles[:place], role, *mapping.roles[place + 1 :])
            mapping = msgspec.structs.replace(mapping, roles=roles, kind=_kind_of(roles, mapping.kind))
            _show_columns(mapping, proposal, terminal)


def _kind_of(roles: Sequence[str], kind: Kind) -> Kind:
    """What a table holds by its roles, where they settle it."""
    if ("sensor" in roles) == ("reference" in roles):
        return kind
    return "sensor" if "sensor" in roles else "meter"


# ---- answers ---------------------------------------------------------------------------------------------------------


def _one_of(*words: str) -> Callable[[str], str]:
    def check(value: str) -> str:
        if value not in words:
            raise InvalidInput(f"choose one of {', '.join(words)}")
        return value

    return check


def _time_zone(value: str) -> str:
    zone_of(value)
    return value


def _roles(value: str) -> tuple[str, ...]:
    check = _one_of(*ROLES)
    return tuple(check(word.strip()) for word in value.split(","))


_ANSWERS: dict[str, Callable[[str], object]] = {
    "kind": _one_of(*KIND_WORDS),
    "roles": _roles,
    "glucose_unit": _one_of(*GLUCOSE_UNITS),
    "date_order": _one_of(*ORDER_WORDS),
    "decimal": _one_of(".", ","),
    "time_zone": _time_zone,
}


def _answered(mapping: ColumnMapping, code: str, value: str, name: str) -> ColumnMapping:
    try:
        answer = _ANSWERS[code](value)
    except InvalidInput as error:
        raise Stop(Exit.USAGE, f"{name}: {code} {value}: {error}") from None
    if isinstance(answer, tuple) and len(answer) != len(mapping.roles):
        raise Stop(Exit.USAGE, f"{name}: roles names {len(answer)} columns, and the file has {len(mapping.roles)}")
    return msgspec.structs.replace(mapping, **{code: answer})


def _how_to_answer(name: str, question: Question, mapping: ColumnMapping) -> str:
    value = ",".join(mapping.roles) if question.code == "roles" else " or ".join(question.options) or "Europe/Lisbon"
    return f"{name}: {question.text}{_lines(question)} Say it with --answer {question.code}={value}"


# ---- words -----------------------------------------------------------------------------------------------------------


def _show(name: str, mapping: ColumnMapping, proposal: Proposal, terminal: Terminal) -> None:
    read_as = [
        KIND_WORDS[mapping.kind],
        mapping.glucose_unit,
        _order(mapping),
        mapping.time_zone,
    ]
    terminal.say(f"{name}: {', '.join(filter(None, read_as))}", style="bold")
    _show_columns(mapping, proposal, terminal)


def _order(mapping: ColumnMapping) -> str | None:
    """Which number of a date is the day, where the column does not show it by itself."""
    return None if mapping.date_order in (None, "year_first") else ORDER_WORDS[mapping.date_order]


def _show_columns(mapping: ColumnMapping, proposal: Proposal, terminal: Terminal) -> None:
    """A row a column: its number, its header, what it is read as, its first cells."""
    rows = []
    for place, role in enumerate(mapping.roles):
        cells = [row[place] for row in proposal.preview[1:] if place < len(row) and row[place]]
        rows.append((str(place + 1), _head(proposal, place), ROLE_WORDS[role], _first(cells)))
    terminal.table(rows, heads=("", "column", "read as", "first cells"))


def _head(proposal: Proposal, place: int) -> str:
    header = proposal.preview[0] if proposal.preview else ()
    return _cropped(header[place] if place < len(header) else "") or "(no header)"


def _first(cells: Sequence[str]) -> str:
    """As many first cells as there is room for, whole, and at least one."""
    shown = _cropped(cells[0]) if cells else ""
    for cell in cells[1:_MOST_CELLS]:
        if len(shown) + 2 + len(cell) > _LONGEST_SHOWN:
            break
        shown += f"  {cell}"
    return shown


def _cropped(text: str) -> str:
    return text if len(text) <= _LONGEST_SHOWN else text[: _LONGEST_SHOWN - 2] + " …"


def _lines(question: Question) -> str:
    if not question.lines:
        return ""
    return f" (line{'s' * (len(question.lines) > 1)} {', '.join(map(str, question.lines))})"
