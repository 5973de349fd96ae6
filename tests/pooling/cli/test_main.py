import subprocess
import sys
import tomllib

import pytest

from pooling.cli import main as module
from pooling.cli.exits import Exit
from pooling.cli.main import COMMANDS, main
from tests.house.tree import ROOT, files, name_of

SERVER_ONLY = ("server", "django", "rest_framework", "celery", "kombu", "redis")
SLOW_TO_LOAD = ("numpy", "scipy", "pandas", "httpx", "keyring")


def test_the_package_installs_the_command():
    scripts = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["scripts"]
    place, _, name = scripts["commonwear"].partition(":")
    assert (place, getattr(module, name)) == (module.__name__, main)


def run_alone(*words, watched):
    """What a command says in a process of its own, and which of the watched packages it loaded."""
    code = (
        "import sys, pooling.cli.main; "
        f"pooling.cli.main.main({list(words)!r}); "
        f"print(*(name for name in {watched!r} if name in sys.modules))"
    )
    ended = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    shown, _, loaded = ended.stdout.removesuffix("\n").rpartition("\n")
    return shown, loaded


@pytest.mark.parametrize("command", COMMANDS)
def test_each_command_works_without_the_server(command):
    shown, loaded = run_alone(command, "--help", watched=SERVER_ONLY)
    assert shown.startswith(f"Usage: commonwear {command}")
    assert loaded == ""


@pytest.mark.parametrize(
    ("command", "unused"),
    [("check", ["scipy.stats", "pandas"]), ("send", ["scipy.stats", "pandas"]), ("sign-out", ["numpy", "scipy"])],
)
def test_a_command_loads_no_more_than_it_needs(command, unused):
    assert run_alone(command, "--help", watched=tuple(unused))[1] == ""


def test_help_waits_for_nothing_that_only_a_command_needs():
    shown, loaded = run_alone("--help", watched=(*SERVER_ONLY, *SLOW_TO_LOAD))
    assert shown.startswith("Usage: commonwear")
    assert loaded == ""


def test_it_runs_as_a_module():
    ended = subprocess.run([sys.executable, "-m", "pooling.cli", "check"], capture_output=True, text=True, check=False)
    assert ended.returncode == Exit.USAGE


@pytest.mark.parametrize("command", COMMANDS)
def test_each_command_explains_itself_with_examples(commonwear, command):
    ended = commonwear(command, "--help")
    assert ended.code == 0
    assert f"\n\n  {COMMANDS[command][1]}" in ended.out
    assert f"Examples:\n    commonwear {command} " in ended.out
    assert max(map(len, ended.out.splitlines())) <= 80


def test_a_command_that_there_is_not_is_a_mistake(commonwear):
    ended = commonwear("chekc")
    assert ended.code == Exit.USAGE
    assert ended.out == ""


def test_without_a_command_the_help_is_shown(commonwear):
    ended = commonwear()
    assert ended.code == Exit.USAGE
    assert "Exit codes:" in ended.out + ended.err


@pytest.mark.parametrize(
    ("error", "code"), [(KeyboardInterrupt(), Exit.INTERRUPTED), (RuntimeError("reading 123.25"), Exit.BROKEN)], ids=str
)
def test_what_ends_a_command_from_outside(commonwear, monkeypatch, write, wear, error, code):
    def broken(_name):
        raise error

    monkeypatch.setattr("pooling.cli.checking.judge", broken)
    ended = commonwear("check", write(wear))
    assert ended.code == code
    assert "123.25" not in ended.out + ended.err


def test_nothing_else_in_the_project_leans_on_the_command_line():
    leaning = [
        name_of(path)
        for path in files("pooling", "server")
        if "cli" not in path.parts and "pooling.cli" in path.read_text(encoding="utf-8")
    ]
    assert leaning == []
