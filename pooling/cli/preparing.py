"""`commonwear prepare`: exports in, a wear record out. Nothing leaves the device; the record holds no clock time."""

import sys
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import msgspec
import typer

from pooling.cli.about import OPTIONAL, YES, Said, answers_of, checked, gather, read_header, said_in, told_of
from pooling.cli.exits import Exit, Stop
from pooling.cli.exports import Source, prepared_from, settled, sources_of, told_by
from pooling.cli.records import show_fault_rows, show_findings, write_bytes
from pooling.cli.terminal import Terminal
from pooling.cli.written import record_bytes
from pooling.errors import RecordInvalid
from pooling.pairing import REASONS
from pooling.preparation import Asked, Prepared, PreparedWear, draft_record
from pooling.vocabulary import GlucoseUnit, counted

OF_THE_PAIRS = ("calibrated", "meter_class")
OF_THE_WEAR = ("sensor_model", "side", "end_reason", "assignment", *OPTIONAL)
_MOST_LINES = 12


def prepare(
    files: Annotated[list[str], typer.Argument(metavar="EXPORT", hidden=True)],
    out: Annotated[Path, typer.Option("--out", metavar="FILE", help="Where the record goes.")] = Path("wear.json"),
    force: Annotated[bool, typer.Option("--force", help="Write over a file that is there.")] = False,
    answer: Annotated[
        list[str] | None,
        typer.Option(metavar="CODE=VALUE", help="How files are to be read, such as date_order=day_first; repeatable."),
    ] = None,
    about: Annotated[
        str | None, typer.Option(metavar="FILE", help="Fields of the record as JSON, for what has no option here.")
    ] = None,
    inserted: Annotated[
        str | None, typer.Option(metavar="TIME", help="By the sensor's clock: '2031-02-10 08:30'.")
    ] = None,
    ended: Annotated[str | None, typer.Option(metavar="TIME", help="By the same clock.")] = None,
    worn_min: Annotated[
        str | None,
        typer.Option("--worn", metavar="LENGTH", help="Where a table has no clock: 13.5d, 320h or 19440min."),
    ] = None,
    sensor_model: Annotated[
        str | None, typer.Option(metavar="NAME", help="Its short name in the server's list.")
    ] = None,
    site: Annotated[str | None, typer.Option(metavar="SITE", help="Such as thigh.front.")] = None,
    side: Annotated[str | None, typer.Option(metavar="SIDE", help="left, right or midline.")] = None,
    end_reason: Annotated[str | None, typer.Option(metavar="WORD", help="Such as completed or fell_off.")] = None,
    assignment: Annotated[str | None, typer.Option(metavar="WORD", help="chosen, randomised or only_option.")] = None,
    calibrated: Annotated[str | None, typer.Option(metavar="yes|no", help="With fingersticks.")] = None,
    prompt: Annotated[str | None, typer.Option(metavar="WORD", help="scheduled, doubt, calibration or other.")] = None,
    meter_class: Annotated[str | None, typer.Option(metavar="WORD", help="Such as within-15-pct.")] = None,
    skin_grade: Annotated[str | None, typer.Option(metavar="0-4", help="0 nothing to 4 taken off early.")] = None,
    skin_signs: Annotated[str | None, typer.Option(metavar="WORDS", help="Such as itch,redness.")] = None,
    ease: Annotated[str | None, typer.Option(metavar="0-10", help="Of placing it.")] = None,
    comfort: Annotated[str | None, typer.Option(metavar="0-10", help="Of wearing it.")] = None,
    discretion: Annotated[str | None, typer.Option(metavar="0-10", help="How little it showed.")] = None,
    prepared: Annotated[str | None, typer.Option(metavar="WORDS", help="Such as washed,cover_tape.")] = None,
    pinch: Annotated[str | None, typer.Option(metavar="WORD", help="thin, medium or thick.")] = None,
    exposed: Annotated[str | None, typer.Option(metavar="WORDS", help="Such as water,sport.")] = None,
    near_insulin_site: Annotated[
        str | None, typer.Option(metavar="yes|no", help="Closer than the instructions allow.")
    ] = None,
    interferent: Annotated[str | None, typer.Option(metavar="yes|no", help="One that the instructions name.")] = None,
    rated_by: Annotated[str, typer.Option(metavar="self|carer", help="Who rated it.")] = "self",
    tolerance: Annotated[
        int, typer.Option(metavar="MIN", min=1, max=15, help="Widest gap between fingerstick and reading.")
    ] = 5,
    unit: Annotated[
        GlucoseUnit | None, typer.Option(metavar="UNIT", case_sensitive=False, help="Of the record: mg/dL or mmol/L.")
    ] = None,
    apply_offset: Annotated[
        str | None, typer.Option(metavar="yes|no", help="Whether to take off an offset of the two clocks.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON value on standard output.")] = False,
) -> None:
    """Make a wear record from exports. Nothing leaves this device.

    EXPORT is a sensor's file and a meter's file, one file that holds both, or a table of typed pairs, in any layout:
    text or spreadsheet; 'book.xlsx#Sheet' is one sheet of a workbook. Shows how the columns are read, which
    fingersticks found no reading and why, and the whole record as it will be sent. At a terminal it asks for what is
    not said here; elsewhere it names what is missing.

    \b
    Examples:
      commonwear prepare trace.csv strips.csv
      commonwear prepare log.xlsx --out thigh.json
      commonwear prepare trace.csv strips.csv --answer date_order=day_first \\
        --inserted '2031-02-10 08:30' --ended '2031-02-24 08:00' \\
        --sensor-model demo-a14 --site thigh.front --end-reason completed \\
        --assignment chosen --calibrated no --prompt scheduled
    """
    terminal = Terminal(as_json=as_json)
    _require_free(out, force=force)
    options = {
        "inserted": inserted,
        "ended": ended,
        "worn_min": worn_min,
        "calibrated": calibrated,
        "prompt": prompt,
        "meter_class": meter_class,
        "sensor_model": sensor_model,
        "site": site,
        "side": side,
        "end_reason": end_reason,
        "assignment": assignment,
        "skin_grade": skin_grade,
        "skin_signs": skin_signs,
        "ease": ease,
        "comfort": comfort,
        "discretion": discretion,
        "prepared": prepared,
        "pinch": pinch,
        "exposed": exposed,
        "near_insulin_site": near_insulin_site,
        "interferent": interferent,
    }
    fields = read_header(about)
    said = said_in(fields) | checked(options)
    sources = sources_of(files)
    sources = settled(sources, told_by(answer or [], sources), terminal)
    more = {"tolerance_min": tolerance, "glucose_unit": unit}
    said, paired = _paired(sources, said, more, apply_offset, terminal)
    told = Told(fields, rated_by)
    places = _places(out, len(paired.wears))
    for place in places:
        _require_free(place, force=force)
    written = [_written(wear, said, told, place, terminal) for wear, place in zip(paired.wears, places, strict=True)]
    terminal.answer({"exports": [_read_as(source) for source in sources], "wears": [one.content for one in written]})
    terminal.caution()
    raise typer.Exit(max(one.code for one in written))


@dataclass(frozen=True, slots=True)
class Told:
    """What goes into every record of one command, beside the answers."""

    fields: dict[str, Any]
    rated_by: str


@dataclass(frozen=True, slots=True)
class Written:
    """A record that was written, as JSON tells it."""

    content: dict[str, Any]
    code: Exit


# ---- from files to wears ---------------------------------------------------------------------------------------------


def _paired(
    sources: Sequence[Source], said: Said, more: dict[str, Any], apply_offset: str | None, terminal: Terminal
) -> tuple[Said, Prepared]:
    """Ask what the pairing depends on, and pair."""
    first = _prepared(sources, said, more, apply_offset)
    offered = {asked.question.code: asked.question for asked in first.questions}
    of_the_pairs = {*OF_THE_PAIRS, *({"inserted", "ended", "worn_min", "prompt"} & set(offered))}
    if not first.wears and not _says_why(sources):
        of_the_pairs.add("prompt")
    if not terminal.can_ask:
        gather(said, of_the_pairs | _of_the_wear(first, sources), terminal, offered=offered)
    said = gather(said, of_the_pairs - {"worn_min"} if first.wears else of_the_pairs, terminal, offered=offered)
    prepared = _prepared(sources, said, more, apply_offset)
    for asked in prepared.questions:
        if asked.question.code == "apply_offset":
            prepared = _prepared(sources, said, more, _offset_answer(asked, terminal))
    if not prepared.is_complete:
        raise Stop(Exit.USAGE, " ".join(one.question.text for one in prepared.questions if one.question.blocking))
    return said, prepared


def _prepared(sources: Sequence[Source], said: Said, more: dict[str, Any], apply_offset: str | None) -> Prepared:
    offset = None if apply_offset is None else apply_offset == YES
    return prepared_from(sources, answers_of(said, apply_offset=offset, **more))


def _offset_answer(asked: Asked, terminal: Terminal) -> str:
    if not terminal.can_ask:
        raise Stop(Exit.USAGE, f"{asked.question.text} Say it with --apply-offset yes or no.")
    return terminal.choose(asked.question.text, dict.fromkeys(asked.question.options, ""))


def _says_why(sources: Sequence[Source]) -> bool:
    return any(_has_role(source, "prompt") for source in sources)


def _has_role(source: Source, role: str) -> bool:
    return source.export.mapping is not None and role in source.export.mapping.roles


def _of_the_wear(prepared: Prepared, sources: Sequence[Source]) -> set[str]:
    """What is still to be said of the wears, as far as the files tell it."""
    if not prepared.wears:
        return {*OF_THE_WEAR, *(() if any(_has_role(source, "site") for source in sources) else ("site",))}
    return set[str]().union(*map(_left_open, prepared.wears))


def _left_open(wear: PreparedWear) -> set[str]:
    """What is to be said of one wear, and what of it the files do not tell."""
    return {*OF_THE_WEAR, *(name for name in ("site", "worn_min") if getattr(wear, name) is None)}


# ---- from wears to records -------------------------------------------------------------------------------------------


def _written(wear: PreparedWear, said: Said, told: Told, place: Path, terminal: Terminal) -> Written:
    _show(wear, terminal)
    said = gather(said, _left_open(wear), terminal, offered={})
    content = draft_record(wear, told_of(said, told.fields, rated_by=told.rated_by))
    try:
        raw = record_bytes(content)
    except RecordInvalid as invalid:
        show_fault_rows([(fault.pointer, fault.message) for fault in invalid.faults], terminal)
        raise Stop(Exit.FINDINGS, "The record was not written: put right what is at fault.") from None
    write_bytes(place, raw)
    _show_record(place, raw, terminal)
    stops = any(finding.severity == "stop" for finding in wear.findings)
    return Written(_content(wear, place, raw), Exit.FINDINGS if stops else Exit.DONE)


def _places(out: Path, n_wears: int) -> list[Path]:
    """A file a wear, numbered where there are several."""
    if n_wears == 1:
        return [out]
    return [out.with_stem(f"{out.stem}-{number}") for number in range(1, n_wears + 1)]


def _require_free(place: Path, *, force: bool) -> None:
    if place.exists() and not force:
        raise Stop(Exit.USAGE, f"{place} is there already. Choose another file with --out, or add --force.")


def _content(wear: PreparedWear, place: Path, raw: bytes) -> dict[str, Any]:
    return {
        "file": str(place),
        "n_bytes": len(raw),
        "n_pairs": len(wear.pairs),
        "unmatched": [{"line": one.line, "reason": one.reason} for one in wear.unmatched],
        "offset": msgspec.to_builtins(wear.offset),
        "findings": msgspec.to_builtins(wear.findings),
    }


def _read_as(source: Source) -> dict[str, Any]:
    return {"file": source.name, "mapping": msgspec.to_builtins(source.export.mapping)}


# ---- words -----------------------------------------------------------------------------------------------------------


def _show(wear: PreparedWear, terminal: Terminal) -> None:
    terminal.say()
    terminal.say(f"Wear {wear.label}: {counted(len(wear.pairs), 'pair')}", style="bold")
    if wear.offset is not None:
        terminal.say(wear.offset.in_words(), indent=2)
    if wear.pairing is not None and wear.pairing.applied_offset_min:
        terminal.say("The meter's times were moved by as much.", indent=2)
    if wear.pairing is not None and wear.pairing.method == "interpolated":
        terminal.say("The trace is coarse: the sensor's value was taken between the two readings around.", indent=2)
    lines_by_reason = defaultdict(list)
    for one in wear.unmatched:
        lines_by_reason[one.reason].append(one.line)
    if lines_by_reason:
        terminal.say(f"{counted(len(wear.unmatched), 'fingerstick')} left out:", indent=2)
    for reason, lines in lines_by_reason.items():
        shown = ", ".join(map(str, lines[:_MOST_LINES])) + (", …" if len(lines) > _MOST_LINES else "")
        terminal.say(f"{REASONS[reason]}: line{'s' * (len(lines) > 1)} {shown}", indent=4)
    show_findings(wear.findings, terminal)


def _show_record(place: Path, raw: bytes, terminal: Terminal) -> None:
    terminal.say()
    terminal.say(
        f"This is all that leaves your device, once you send {place} ({counted(len(raw), 'byte')}):", style="bold"
    )
    if not terminal.as_json:
        sys.stdout.write(raw.decode())
    terminal.say()
    terminal.say(f"Written: {place}")
    terminal.say(f"Next: commonwear report {place}")
    terminal.say(f"      commonwear send {place} --server ADDRESS")
