"""The command `commonwear` and what holds for all of its commands."""

import sys
import traceback
from collections.abc import Sequence
from importlib import import_module
from typing import Any

import typer
from typer.core import TyperGroup

from pooling.cli.exits import MEANING, Exit, Stop
from pooling.cli.terminal import Terminal

COMMANDS = {
    "prepare": ("pooling.cli.preparing", "Make a wear record from exports."),
    "check": ("pooling.cli.checking", "Check wear records before they are sent."),
    "report": ("pooling.cli.reporting", "Say what a wear shows."),
    "plan": ("pooling.cli.planning", "Plan a fair test of two or more sites."),
    "send": ("pooling.cli.sending", "Send wear records to a server."),
    "verify": ("pooling.cli.verifying", "Check the package of an edition."),
    "sign-out": ("pooling.cli.signing", "End the sign-in of this device."),
}
"""Each command, where its function of that name lies, and the first sentence of its help."""

_CODES = "\n".join(f"  {code:>3}  {meaning}" for code, meaning in MEANING.items())


class Commands(TyperGroup):
    """Loads the module of one command, and only when that command is meant: the others' work takes seconds to load."""

    def list_commands(self, ctx: Any) -> list[str]:  # noqa: ARG002
        return list(COMMANDS)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:  # noqa: ARG002
        if cmd_name not in COMMANDS:
            return None
        module, _ = COMMANDS[cmd_name]
        alone = typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)
        alone.command(cmd_name)(getattr(import_module(module), cmd_name.replace("-", "_")))
        return typer.main.get_command(alone)

    def format_commands(self, ctx: Any, formatter: Any) -> None:  # noqa: ARG002
        with formatter.section("Commands"):
            formatter.write_dl([(name, says) for name, (_, says) in COMMANDS.items()])


app = typer.Typer(
    name="commonwear",
    cls=Commands,
    help="Make, check, read and send records of finished sensor wears, and check the packages of editions. "
    "Everything but `send` stays on this device.",
    epilog=f"\b\nExit codes:\n{_CODES}",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


@app.callback()
def _commonwear() -> None:
    """What is said here stands in `app`."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; `arguments` are those of the process unless given."""
    try:
        app(args=None if arguments is None else list(arguments), prog_name="commonwear")
    except SystemExit as ended:
        return int(ended.code or 0)
    except Stop as stop:
        Terminal().note(str(stop))
        return stop.code
    except Exception as error:  # noqa: BLE001 a traceback could show a reading
        Terminal().note(_unexpected(error))
        return Exit.BROKEN
    return Exit.DONE


def _unexpected(error: Exception) -> str:
    """Kind and place of an error, without its message, in which a reading might stand."""
    place = traceback.extract_tb(sys.exc_info()[2])[-1]
    return (
        f"Something of ours broke: {type(error).__name__} in {place.name}, line {place.lineno}. "
        "Your files are as they were. Please tell those who look after this program; no reading stands in this message."
    )
