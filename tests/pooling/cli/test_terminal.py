import json
import sys

import pytest

from pooling.caution import CAUTION_SHORT, CAUTION_TEXT
from pooling.cli.terminal import WIDEST, Terminal


def test_results_go_out_and_notes_go_to_standard_error(capsys):
    terminal = Terminal()
    terminal.say("a result")
    terminal.note("a note")
    said = capsys.readouterr()
    assert (said.out, said.err) == ("a result\n", "a note\n")


def test_with_json_standard_output_carries_nothing_else(capsys):
    terminal = Terminal(as_json=True)
    terminal.say("a result")
    terminal.answer({"said": 1})
    said = capsys.readouterr()
    assert said.err == "a result\n"
    assert json.loads(said.out)["caution"]["text"] == CAUTION_TEXT


def test_nothing_is_wider_than_eighty_columns_where_there_is_no_terminal(capsys, monkeypatch):
    monkeypatch.delenv("COLUMNS", raising=False)
    terminal = Terminal()
    terminal.say("word " * 100, indent=4)
    terminal.table([("name", "text " * 60)])
    terminal.caution()
    said = capsys.readouterr().out
    assert max(map(len, said.splitlines())) <= 80
    assert not any(line.endswith(" ") for line in said.splitlines())
    assert CAUTION_SHORT in " ".join(said.split())


def test_a_very_wide_screen_does_not_make_very_long_lines(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "300")
    Terminal().say("word " * 100)
    assert max(map(len, capsys.readouterr().out.splitlines())) <= WIDEST


@pytest.mark.parametrize(("variables", "coloured"), [({}, True), ({"NO_COLOR": "1"}, False)])
def test_a_terminal_gets_style_unless_told_otherwise(capsys, monkeypatch, variables, coloured):
    for name in ("NO_COLOR", "FORCE_COLOR", "TTY_COMPATIBLE"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TERM", "xterm-256color")
    for name, value in variables.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True, raising=False)
    Terminal().say("bold and red", style="bold red")
    assert ("\x1b[1;31m" in capsys.readouterr().out) is coloured


def test_where_there_is_no_terminal_there_is_no_style_at_all(capsys, monkeypatch):
    monkeypatch.delenv("FORCE_COLOR", raising=False)
    Terminal().say("bold", style="bold")
    assert capsys.readouterr().out == "bold\n"


def test_a_name_in_brackets_is_no_style(capsys):
    Terminal().say("wear[red].json")
    assert capsys.readouterr().out == "wear[red].json\n"
