"""The command `commonwear` and what holds for all of its commands."""

import sys
import traceback
from collections.abc import Sequence

import typer

from pooling.cli.checking import check
from pooling.cli.exits import MEANING, Exit, Stop
from pooling.cli.preparing import prepare
from pooling.cli.reporting import report
from pooling.cli.sending import send
from pooling.cli.signing import sign_out
from pooling.cli.terminal import Terminal

_CODES = "\n".join(f"  {code:>3}  {meaning}" for code, meaning in MEANING.items())

app = typer.Typer(
    name="commonwear",
    help="Make, check, read and send records of finished sensor wears. Everything but `send` stays on this device.",
    epilog=f"\b\nExit codes:\n{_CODES}",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
app.command()(prepare)
app.command()(check)
app.command()(report)
app.command()(send)
app.command()(sign_out)


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
