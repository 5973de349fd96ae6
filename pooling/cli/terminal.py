"""Where a command speaks: results on standard output, everything else on standard error.

Colour is used on a terminal only, and never where NO_COLOR is set; nothing is told by colour alone.
"""

import json
import sys
import textwrap
from collections.abc import Mapping, Sequence
from getpass import getpass
from typing import Any

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from pooling.caution import CAUTION_SHORT, CAUTION_TEXT, CAUTION_VERSION
from pooling.cli.exits import Exit, Stop

WIDEST = 100


class Terminal:
    """The two streams of one command. With `as_json` standard output carries one JSON value and nothing else."""

    def __init__(self, *, as_json: bool = False) -> None:
        self.as_json = as_json
        self.notes = _console(stderr=True)
        self.results = self.notes if as_json else _console(stderr=False)

    def say(self, text: str = "", *, style: str = "", indent: int = 0) -> None:
        """A paragraph of a result."""
        self.results.print(Text(self._filled(text, indent), style), soft_wrap=True)

    def note(self, text: str = "") -> None:
        """Something that is no result: what is being done, or what went wrong; each line a paragraph."""
        for paragraph in text.split("\n"):
            self.notes.print(Text(self._filled(paragraph, 0)), soft_wrap=True)

    @property
    def can_ask(self) -> bool:
        return sys.stdin.isatty()

    def ask(self, question: str, *, hidden: bool = False) -> str:
        """A line from the person at the terminal.

        Raises
        ------
        Stop
            If there is nobody: the command runs without a terminal.
        """
        if not self.can_ask:
            raise Stop(Exit.USAGE, f"{question}? Nobody is there to answer: there is no terminal.")
        if hidden:
            return getpass(f"{question}: ", stream=sys.stderr)
        self.notes.print(Text(f"{question}: "), end="")
        try:
            return input().strip()
        except EOFError:
            raise Stop(Exit.USAGE, "The answers ended before the questions did.") from None

    def choose(self, question: str, choices: Mapping[str, str], *, optional: bool = False) -> str:
        """One of several, by its number in the list; empty where it may be left open. Errors as `ask`.

        A choice that is a number is typed as it is, and one without words stands in the prompt only; of yes and no the
        first letter is enough.
        """
        numbered = self._list(question, choices)
        hint = "Number" if numbered else _from_to(list(choices))
        while True:
            typed = self.ask(f"{hint}, or Enter to leave it open" if optional else hint)
            answer = numbered.get(typed) or _meant(typed, choices)
            if answer in choices or (optional and not typed):
                return answer
            self.note(f"Please type {'a number of the list' if numbered else hint}.")

    def choose_several(self, question: str, choices: Mapping[str, str], *, optional: bool = False) -> str:
        """Some of several, by their numbers; the words with commas between them. Errors as `ask`."""
        numbered = self._list(question, choices)
        hint = "Numbers, with commas between them"
        while True:
            typed = self.ask(f"{hint}, or Enter to leave it open" if optional else hint)
            chosen = [numbered.get(one.strip(), one.strip()) for one in typed.split(",") if one.strip()]
            if set(chosen) <= set(choices) and (chosen or optional):
                return ",".join(dict.fromkeys(chosen))
            self.note("Please type numbers of the list, with commas between them.")

    def _list(self, question: str, choices: Mapping[str, str]) -> dict[str, str]:
        """Show a question and its choices; what is to be typed for each of those that have words."""
        self.note()
        self.note(question)
        words = [word for word, text in choices.items() if text]
        numbered = {word if word.isdigit() else str(place): word for place, word in enumerate(words, start=1)}
        for number, word in numbered.items():
            self.note(f"  {number:>2}  {choices[word]}")
        return numbered

    def _filled(self, text: str, indent: int) -> str:
        margin, room = " " * indent, self.results.width - 1
        return textwrap.fill(
            text,
            room,
            initial_indent=margin,
            subsequent_indent=margin,
            break_long_words=False,
            break_on_hyphens=False,
        )

    def table(self, rows: Sequence[Sequence[str]], *, heads: Sequence[str] = (), indent: int = 2) -> None:
        """Columns side by side; the last one takes the room that is left."""
        table = Table(box=None, show_header=bool(heads), pad_edge=False, header_style="bold", padding=(0, 2, 0, 0))
        width = max((len(row) for row in rows), default=len(heads))
        for place in range(width):
            table.add_column(heads[place] if heads else "", overflow="fold")
        for row in rows:
            table.add_row(*(Text(cell) for cell in row))
        with self.results.capture() as drawn:
            self.results.print(Padding(table, (0, 0, 0, indent)))
        lines = [line.rstrip() for line in drawn.get().splitlines()]
        self.results.file.write("\n".join([*lines, ""]))

    def answer(self, content: dict[str, Any]) -> None:
        """The machine's result, with the caution in it; only where JSON was asked for."""
        if self.as_json:
            caution = {"version": CAUTION_VERSION, "text": CAUTION_TEXT}
            sys.stdout.write(json.dumps(content | {"caution": caution}, ensure_ascii=False, indent=2) + "\n")

    def caution(self) -> None:
        """The short caution, below every result."""
        self.say()
        self.say(f"Caution. {CAUTION_SHORT}")


def _meant(typed: str, choices: Mapping[str, str]) -> str:
    """The choice that was typed, or the only one that begins so.

    >>> _meant("Y", {"yes": "", "no": ""}), _meant("1", {"1": "", "10": ""}), _meant("", {"yes": ""})
    ('yes', '1', '')
    """
    begun = [choice for choice in choices if typed and choice.startswith(typed.lower())]
    return begun[0] if len(begun) == 1 and typed not in choices else typed


def _from_to(words: list[str]) -> str:
    return f"{words[0]} to {words[-1]}" if len(words) > 2 else " or ".join(words)


def _console(*, stderr: bool) -> Console:
    console = Console(stderr=stderr, highlight=False, markup=False, emoji=False)
    console.width = min(console.width, WIDEST)
    return console
