from types import SimpleNamespace

import pytest

from tests.redteam import __main__ as command
from tests.redteam.registry import Effort, Line, goals


def test_every_goal_is_known_by_its_own_letter():
    for letter, goal in goals().items():
        assert (goal.letter, goal.run.__module__) == (letter, f"tests.redteam.goal_{letter.lower()}")
        assert goal.claim.endswith(".")


def test_effort_picks_by_how_hard_to_try():
    assert [Effort(full, 1).pick(1000, 10) for full in (True, False)] == [1000, 10]


@pytest.mark.parametrize(("stood", "code"), [(True, 0), (False, 1)])
def test_one_attack_that_gets_through_fails_the_run(monkeypatch, capsys, stood, code):
    monkeypatch.setattr(command, "goals", lambda: {"X": SimpleNamespace(claim="Nothing gets through.")})
    lines = [Line("the first", "all", "none", stood=True), Line("the second", "all", "some", stood)]
    monkeypatch.setattr(command, "attack", lambda *_, **__: (lines, 1.0))
    monkeypatch.setattr("sys.argv", ["tests.redteam", "--seed", "7"])
    assert command.main() == code
    printed = capsys.readouterr().out
    assert printed.startswith("seed 7, short\n")
    assert ("NO" in printed) is not stood


def test_a_goal_without_an_attack_has_not_stood(monkeypatch, capsys):
    monkeypatch.setattr(command, "goals", lambda: {"X": SimpleNamespace(claim="Nothing is tried.")})
    monkeypatch.setattr(command, "attack", lambda *_, **__: ([], 0.0))
    monkeypatch.setattr("sys.argv", ["tests.redteam"])
    assert command.main() == 1
