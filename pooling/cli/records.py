"""Wear records from files: read, checked, and put into words."""

import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from pooling.checks import Finding, find
from pooling.cli.exits import Exit, Stop
from pooling.cli.terminal import Terminal
from pooling.columns import columns_from
from pooling.errors import Fault, RecordInvalid
from pooling.record import WearRecord, parse_record
from pooling.vocabulary import counted, label

STANDARD_INPUT = "-"
SEVERITY = {"stop": "Stop", "look": "Worth a check", "note": "Worth knowing"}


@dataclass(frozen=True, slots=True)
class Judged:
    """What a file holds: a record with its findings, or the faults that keep it from being one."""

    name: str
    raw: bytes
    record: WearRecord | None
    faults: tuple[Fault, ...] = ()
    findings: tuple[Finding, ...] = ()

    @property
    def code(self) -> Exit:
        stops = any(finding.severity == "stop" for finding in self.findings)
        return Exit.FINDINGS if self.faults or stops else Exit.DONE


def read_bytes(name: str) -> bytes:
    """The content of a file, or of standard input for `-`.

    Raises
    ------
    Stop
        If it cannot be read; the message says why in the system's words.
    """
    try:
        return sys.stdin.buffer.read() if name == STANDARD_INPUT else Path(name).read_bytes()
    except OSError as error:
        reason = (error.strerror or "it cannot be read").lower()
        raise Stop(Exit.UNREADABLE, f"{name}: {reason}. Check the name of the file and where it lies.") from None


def write_bytes(name: Path, content: bytes) -> None:
    """Write a file whole.

    Raises
    ------
    Stop
        If it cannot be written.
    """
    try:
        name.write_bytes(content)
    except OSError as error:
        reason = (error.strerror or "it cannot be written").lower()
        raise Stop(Exit.UNREADABLE, f"{name} was not written: {reason}. Choose another place.") from None


def judge(name: str) -> Judged:
    """Read a file and say what is in it. Errors as `read_bytes`."""
    raw = read_bytes(name)
    try:
        record = parse_record(raw)
    except RecordInvalid as invalid:
        return Judged(name, raw, None, invalid.faults)
    return Judged(name, raw, record, findings=find(columns_from(record), record))


def valid_record(judged: Judged, terminal: Terminal) -> WearRecord:
    """The record of a file, for a command that can do nothing without one.

    Raises
    ------
    Stop
        If it has faults, after they have been shown.
    """
    if judged.record is None:
        show_faults(judged, terminal)
        raise Stop(Exit.FINDINGS, f"{judged.name}: put the faults right and try again.")
    return judged.record


# ---- words -----------------------------------------------------------------------------------------------------------


def described(record: WearRecord) -> str:
    """A wear in one line.

    The site, the model, how long it was worn and how it ended, and how many pairs there are.
    """
    days = f"worn {record.worn_min / 1440:.1f} days"
    pairs = f"{counted(len(record.pairs), 'pair')} in {record.glucose_unit}"
    return ", ".join([label(record.site), f"sensor model {record.sensor_model}", days, label(record.end_reason), pairs])


def place_in_words(pointer: str) -> str:
    """A JSON pointer as a person counts.

    >>> place_in_words("#/pairs/2/reference"), place_in_words("#/site"), place_in_words("#")
    ('pair 3, reference', 'site', 'the whole file')
    """
    words: list[str] = []
    for step in pointer.removeprefix("#").split("/")[1:]:
        if step.isdigit() and words:
            words[-1] = f"{words[-1].removesuffix('s')} {int(step) + 1}"
        else:
            words.append(step.replace("~1", "/").replace("~0", "~"))
    return ", ".join(words) or "the whole file"


def show_faults(judged: Judged, terminal: Terminal) -> None:
    terminal.say(f"{judged.name}: not a valid wear record, {counted(len(judged.faults), 'fault')}", style="bold")
    show_fault_rows([(fault.pointer, fault.message) for fault in judged.faults], terminal)
    if any(fault.code == "not_json" for fault in judged.faults):
        terminal.say(f"If it is an export, make a record of it first: commonwear prepare {judged.name}", indent=2)


def show_fault_rows(faults: Sequence[tuple[str, str]], terminal: Terminal) -> None:
    """Faults by place, each with the pointer that a program would use; what is wrong at many places is said once."""
    places: dict[tuple[str, str], list[str]] = {}
    for pointer, message in faults:
        places.setdefault((pointer.rpartition("/")[2], message), []).append(pointer)
    for (_field, message), pointers in places.items():
        more = f", and {counted(len(pointers) - 1, 'more place')}" if len(pointers) > 1 else ""
        terminal.say(f"{place_in_words(pointers[0])} ({pointers[0]}){more}", indent=2)
        terminal.say(message, indent=4)


def show_findings(findings: Sequence[Finding], terminal: Terminal) -> None:
    for finding in findings:
        terminal.say(f"{SEVERITY[finding.severity]}: {finding.seen}", indent=2)
        terminal.say(f"{finding.why} {finding.do}", indent=4)
