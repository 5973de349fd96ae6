import subprocess
import sys
import tomllib

import pytest

from pooling.cli import main as module
from pooling.cli.exits import Exit
from pooling.cli.main import app, main
from tests.house.tree import ROOT, files, name_of

SERVER_ONLY = ("server", "django", "rest_framework", "celery", "kombu", "redis")


def commands():
    return [command.name or command.callback.__name__.replace("_", "-") for command in app.registered_commands]


def test_the_package_installs_the_command():
    scripts = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["scripts"]
    place, _, name = scripts["commonwear"].partition(":")
    assert (place, getattr(module, name)) == (module.__name__, main)


def test_the_command_works_without_the_server():
    code = (
        "import sys, pooling.cli.main; "
        f"print(*(name for name in {SERVER_ONLY!r} if name in sys.modules)); "
        "sys.exit(pooling.cli.main.main(['--help']))"
    )
    ended = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    first, _, shown = ended.stdout.partition("\n")
    assert first == ""
    assert shown.startswith("Usage: commonwear")


def test_it_runs_as_a_module():
    ended = subprocess.run([sys.executable, "-m", "pooling.cli", "check"], capture_output=True, text=True, check=False)
    assert ended.returncode == Exit.USAGE


@pytest.mark.parametrize("command", commands())
def test_each_command_explains_itself_with_examples(commonwear, command):
    ended = commonwear(command, "--help")
    assert ended.code == 0
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
