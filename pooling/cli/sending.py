"""`commonwear send`: finished wears to a server, each once, however often the line breaks."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.progress import Progress

from pooling.checks import Finding
from pooling.cli import outbox
from pooling.cli.exits import Exit, Stop
from pooling.cli.records import STANDARD_INPUT, Judged, described, judge, show_fault_rows, show_findings
from pooling.cli.service import Refused, Service, service_address
from pooling.cli.signing import Server, token_or_stop
from pooling.cli.terminal import Terminal
from pooling.vocabulary import counted

OWN = "yourself"


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one file."""

    file: str
    outcome: str
    code: Exit = Exit.DONE
    wear: str | None = None
    message: str | None = None
    faults: Sequence[tuple[str, str]] = ()
    findings: Sequence[Finding] = ()
    judged: Judged | None = None

    def content(self) -> dict[str, Any]:
        faults = [{"pointer": pointer, "message": message} for pointer, message in self.faults]
        return {
            "file": self.file,
            "outcome": self.outcome,
            "wear": self.wear,
            "message": self.message,
            "faults": faults,
            "findings": [finding.code for finding in self.findings],
        }


@dataclass(frozen=True, slots=True)
class Choices:
    """What holds for all files of one command."""

    wearer: str | None
    despite_findings: bool
    again: bool


def send(
    files: Annotated[list[Path], typer.Argument(metavar="FILE", hidden=True)],
    server: Server,
    wearer: Annotated[
        str | None,
        typer.Option(
            metavar="WHO", help="Whose wear it is: self, child or other, or the id of a wearer; yourself unless given."
        ),
    ] = None,
    prompt: Annotated[bool, typer.Option("--sign-in", help="Ask for sign-in name and password first.")] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Say what would be sent, and send nothing.")] = False,
    despite_findings: Annotated[
        bool, typer.Option("--despite-findings", help="Send although a finding says to stop.")
    ] = False,
    again: Annotated[bool, typer.Option("--again", help="Send although it was sent: makes a second wear.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON value on standard output.")] = False,
) -> None:
    """Send wear records to a server.

    There they are yours alone until you give them to a group. Each FILE is checked first and sent as it is, byte for
    byte. A small file beside it (FILE.sent) notes what was sent: if the line breaks, run the same command again;
    nothing is sent twice. The token comes from the system's keyring (--sign-in puts it there) or from COMMONWEAR_TOKEN.

    \b
    Examples:
      commonwear send wear.json --server https://pool.example --sign-in
      commonwear send wears/*.json --server https://pool.example
      commonwear send wear.json --server https://pool.example --wearer child
      commonwear send wear.json --server https://pool.example --dry-run
    """
    terminal = Terminal(as_json=as_json)
    address = service_address(server)
    if Path(STANDARD_INPUT) in files:
        raise Stop(Exit.USAGE, "Only files can be sent: beside each stands a note of what was sent.")
    with Service(address, note=terminal.note) as service:
        alone = dry_run and wearer is None and not prompt
        token = "" if alone else token_or_stop(service, terminal, prompt=prompt)
        choices = Choices(_wearer_id(service, token, wearer), despite_findings, again)
        outcomes = _ready(files, address, choices) if dry_run else _sent(service, token, files, choices)
        told = list(_with_progress(files, outcomes, terminal))
    terminal.answer({"server": address, "files": [outcome.content() for outcome in told]})
    _sum_up(told, wearer or OWN, terminal)
    raise typer.Exit(max(outcome.code for outcome in told))


# ---- one file after the other ----------------------------------------------------------------------------------------


def _sent(service: Service, token: str, files: Sequence[Path], choices: Choices) -> Iterator[Outcome]:
    """Send each file; once the server is gone or the sign-in has ended, the rest is left for another time."""
    code = Exit.DONE
    for file in files:
        if code in {Exit.UNREACHABLE, Exit.SIGN_IN}:
            yield Outcome(str(file), "not tried", code)
            continue
        outcome = _send_one(service, token, file, choices)
        code = outcome.code
        yield outcome


def _send_one(service: Service, token: str, file: Path, choices: Choices) -> Outcome:
    try:
        judged = judge(str(file))
        return (
            _held_back(judged, choices)
            or _sent_before(file, service.address, judged, choices)
            or _post(service, token, file, judged, choices)
        )
    except Refused as refused:
        message = f"{refused}{_known_models(service, refused)}"
        return Outcome(str(file), "refused", refused.code, message=message, faults=refused.faults)
    except Stop as stop:
        return Outcome(str(file), "not sent", stop.code, message=str(stop))


def _ready(files: Sequence[Path], address: str, choices: Choices) -> Iterator[Outcome]:
    """What would become of each file, without sending it."""
    return (_ready_one(file, address, choices) for file in files)


def _ready_one(file: Path, address: str, choices: Choices) -> Outcome:
    try:
        judged = judge(str(file))
        stopped = _held_back(judged, choices) or _sent_before(file, address, judged, choices)
    except Stop as stop:
        return Outcome(str(file), "not sent", stop.code, message=str(stop))
    return stopped or Outcome(str(file), "ready", judged=judged, findings=judged.findings)


def _held_back(judged: Judged, choices: Choices) -> Outcome | None:
    """A file that is not sent for what is in it."""
    if judged.record is None:
        faults = [(fault.pointer, fault.message) for fault in judged.faults]
        return Outcome(judged.name, "invalid", Exit.FINDINGS, faults=faults, message="This is no valid wear record.")
    if judged.code == Exit.FINDINGS and not choices.despite_findings:
        message = "A finding says to stop. Put it right, or add --despite-findings if all is as it was."
        return Outcome(judged.name, "held back", Exit.FINDINGS, message=message, findings=judged.findings)
    return None


def _sent_before(file: Path, address: str, judged: Judged, choices: Choices) -> Outcome | None:
    """A file that this server has already, as the note beside it says."""
    last = None if choices.again else outbox.last_sending(file, address)
    if last is None or last.wear is None:
        return None
    if (last.digest, last.wearer) == (outbox.digest_of(judged.raw), choices.wearer):
        return Outcome(judged.name, "sent before", wear=last.wear)
    changed = "It has changed" if last.wearer == choices.wearer else "It is now said to be somebody else's"
    message = f"{changed} since it was sent as wear {last.wear}. Erase that wear first, then add --again."
    return Outcome(judged.name, "held back", Exit.FINDINGS, message=message)


def _post(service: Service, token: str, file: Path, judged: Judged, choices: Choices) -> Outcome:
    sending = outbox.begin(file, service.address, judged.raw, wearer=choices.wearer)
    headers = {"Idempotency-Key": sending.key, "Content-Type": "application/json", "Prefer": "return=minimal"}
    if choices.wearer:
        headers["Wearer"] = choices.wearer
    answer = service.call("POST", "wears/", token=token, headers=headers, content=judged.raw)
    outbox.finish(file, service.address, sending, wear=answer["id"])
    told = answer.get("report", answer)  # a server need not heed what a request prefers
    findings = [Finding(**finding) for finding in told["findings"]]
    return Outcome(judged.name, "sent", wear=answer["id"], judged=judged, findings=findings)


def _known_models(service: Service, refused: Refused) -> str:
    """Where the sensor model is at fault, those that the server knows."""
    if all(pointer != "#/sensor_model" for pointer, _message in refused.faults):
        return ""
    models = service.call("GET", "sensor-models/")["sensor_models"]
    return f" Sensor models it takes: {', '.join(model['slug'] for model in models if model['open']) or 'none yet'}."


def _wearer_id(service: Service, token: str, who: str | None) -> str | None:
    """The id of the wearer meant; none for the account's own self.

    Raises
    ------
    Stop
        If nobody, or more than one person, is meant; the message lists who there is.
    """
    if who in {None, "self"}:
        return None
    wearers = service.call("GET", "me/wearers/", token=token)["wearers"]
    meant = [wearer["id"] for wearer in wearers if who in {wearer["id"], wearer["relation"]}]
    if len(meant) != 1:
        known = "; ".join(f"{one['relation']} ({one['age_class']}): {one['id']}" for one in wearers)
        fewer = "Nobody is" if not meant else "More than one person is"
        raise Stop(Exit.USAGE, f"{fewer} meant by --wearer {who}. There are {known}")
    return str(meant[0])


# ---- words -----------------------------------------------------------------------------------------------------------


def _with_progress(files: Sequence[Path], outcomes: Iterator[Outcome], terminal: Terminal) -> Iterator[Outcome]:
    """Each outcome as it comes, told at once; with several files a bar on the terminal says how far it is."""
    hidden = len(files) < 2 or not terminal.notes.is_terminal
    with Progress(console=terminal.notes, transient=True, disable=hidden) as progress:
        for outcome in progress.track(outcomes, total=len(files), description="Sending"):
            _show(outcome, terminal)
            yield outcome


def _show(outcome: Outcome, terminal: Terminal) -> None:
    terminal.say(f"{outcome.file}: {outcome.outcome}", style="bold")
    if outcome.judged is not None and outcome.judged.record is not None:
        terminal.say(described(outcome.judged.record), indent=2)
        terminal.say(f"{counted(len(outcome.judged.raw), 'byte')}, as in the file", indent=2)
    if outcome.wear is not None:
        terminal.say(f"On the server it is wear {outcome.wear}.", indent=2)
    if outcome.message is not None:
        terminal.say(outcome.message, indent=2)
    show_fault_rows(outcome.faults, terminal)
    show_findings(outcome.findings, terminal)


def _sum_up(outcomes: Sequence[Outcome], who: str, terminal: Terminal) -> None:
    told = Counter(outcome.outcome for outcome in outcomes)
    terminal.say()
    terminal.say(
        f"{counted(len(outcomes), 'file')}, worn by {who}: " + ", ".join(f"{n} {what}" for what, n in told.items())
    )
    if told["sent"]:
        terminal.say("Nobody but you sees a wear until you give it to a group.")
    if told["not tried"]:
        terminal.say("Run the same command again later; what was sent is not sent twice.")
    terminal.caution()
