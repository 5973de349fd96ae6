"""`commonwear verify`: is the package of an edition what it says it is?"""

from typing import Annotated, Any

import msgspec
import typer

from pooling.cli.exits import Exit, Stop
from pooling.cli.records import read_bytes
from pooling.cli.terminal import Terminal
from pooling.edition.verifying import Checked, check_package


def verify(
    files: Annotated[list[str], typer.Argument(metavar="PACKAGE", hidden=True)],
    sha256: Annotated[
        str | None, typer.Option("--sha256", metavar="DIGEST", help="The SHA-256 that the edition must have.")
    ] = None,
    key: Annotated[
        str | None, typer.Option("--key", metavar="KEY", help="The public key that must have signed it.")
    ] = None,
    without_charts: Annotated[
        bool, typer.Option("--without-charts", help="Compare no charts: other fonts draw other bytes.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON value on standard output.")] = False,
) -> None:
    """Check the package of an edition. Nothing leaves this device.

    Makes every table, chart and text of PACKAGE again from the document in it, compares them byte for byte, and
    checks digests, the auditor's certificate and the signature; - reads a package from standard input.

    A package that somebody made anew as a whole fits together too: name the digest that its server states, or the key.

    \b
    Examples:
      commonwear verify package.zip
      commonwear verify package.zip --sha256 4f7c…
      commonwear verify package.zip --key 90aa… --without-charts
      commonwear verify --json *.zip > verified.json
    """
    terminal = Terminal(as_json=as_json)
    code, verified = Exit.DONE, []
    for name in files:
        try:
            checked = check_package(read_bytes(name), sha256=sha256, public_key=key, charts=not without_charts)
        except Stop as stop:
            terminal.note(str(stop))
            code = max(code, stop.code)
            verified.append({"file": name, "whole": False, "error": str(stop)})
            continue
        _show(name, checked, terminal, charts=not without_charts)
        code = max(code, Exit.FINDINGS if checked.faults else Exit.DONE)
        verified.append(_content(name, checked, charts=not without_charts))
    terminal.answer({"packages": verified})
    terminal.caution()
    raise typer.Exit(code)


def _show(name: str, checked: Checked, terminal: Terminal, *, charts: bool) -> None:
    if checked.faults:
        n_faults = len(checked.faults)
        terminal.say(f"{name}: not as published, {n_faults} {'fault' if n_faults == 1 else 'faults'}", style="bold")
        for fault in checked.faults:
            terminal.say(f"{fault.file}: {fault.message}.", indent=2)
            terminal.say(fault.do, indent=4)
        return
    terminal.say(f"{name}: whole", style="bold")
    terminal.say(f"{checked.group}, edition {checked.number}, {checked.n_files} files", indent=2)
    terminal.say(f"SHA-256 of the document: {checked.sha256}", indent=2)
    terminal.say(f"Signed by: {checked.signed_by or 'nobody'}", indent=2)
    if not charts:
        terminal.say("Charts were not compared.", indent=2)


def _content(name: str, checked: Checked, *, charts: bool) -> dict[str, Any]:
    return {
        "file": name,
        "whole": not checked.faults,
        "charts_compared": charts,
        "faults": msgspec.to_builtins(checked.faults),
        "group": checked.group,
        "edition": checked.number,
        "sha256": checked.sha256,
        "signed_by": checked.signed_by,
    }
