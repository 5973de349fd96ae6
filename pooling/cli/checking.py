"""`commonwear check`: is this a wear record, and is anything odd about it?"""

from typing import Annotated, Any

import msgspec
import typer

from pooling.cli.exits import Exit, Stop
from pooling.cli.records import Judged, described, judge, show_faults, show_findings
from pooling.cli.terminal import Terminal


def check(
    files: Annotated[list[str], typer.Argument(metavar="FILE", hidden=True)],
    as_json: Annotated[bool, typer.Option("--json", help="One JSON value on standard output.")] = False,
) -> None:
    """Check wear records before they are sent. Nothing leaves this device.

    Says of each FILE whether it is a valid wear-record/1, what is at fault and where, and what looks odd; - reads a
    record from standard input.

    \b
    Examples:
      commonwear check wear.json
      commonwear check wears/*.json
      commonwear check --json wear.json > checked.json
    """
    terminal = Terminal(as_json=as_json)
    code, checked = Exit.DONE, []
    for name in files:
        try:
            judged = judge(name)
        except Stop as stop:
            terminal.note(str(stop))
            code, content = max(code, stop.code), {"file": name, "error": str(stop)}
        else:
            _show(judged, terminal)
            code, content = max(code, judged.code), _content(judged)
        checked.append(content)
    terminal.answer({"files": checked})
    terminal.caution()
    raise typer.Exit(code)


def _show(judged: Judged, terminal: Terminal) -> None:
    if judged.record is None:
        show_faults(judged, terminal)
        return
    terminal.say(f"{judged.name}: a valid wear record", style="bold")
    terminal.say(described(judged.record), indent=2)
    if judged.findings:
        show_findings(judged.findings, terminal)
    else:
        terminal.say("Nothing looks odd.", indent=2)


def _content(judged: Judged) -> dict[str, Any]:
    return {
        "file": judged.name,
        "valid": judged.record is not None,
        "faults": [{"pointer": f.pointer, "code": f.code, "message": f.message} for f in judged.faults],
        "findings": msgspec.to_builtins(judged.findings),
    }
