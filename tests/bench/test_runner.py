"""The runner is honest: it passes what keeps its bound, fails what does not, and misses no module of this folder."""

import json
from pathlib import Path

import pytest

from tests.bench import __main__ as command
from tests.bench import runner
from tests.bench.runner import Bench, as_json, bench, ratio, run


class Clock:
    """Goes on by what work says, so that no test waits."""

    def __init__(self):
        self.now = 0.0

    def __call__(self):
        return self.now

    def taking(self, *seconds):
        left = list(seconds)

        def work():
            self.now += left.pop(0)

        return work


def test_a_ratio_is_the_fastest_over_the_fastest():
    clock = Clock()
    work, yardstick = clock.taking(9, 6, 8), clock.taking(4, 5, 2)
    assert ratio(work, yardstick, rounds=3, clock=clock) == 3


def test_twice_the_work_is_about_twice_the_ratio():
    def once():
        sum(range(200_000))

    def twice():
        once()
        once()

    assert 1.2 < ratio(twice, once, rounds=7) < 3.5


@pytest.mark.parametrize(("measured", "verdict"), [(3.0, "within"), (3.01, "MISSED"), (float("nan"), "MISSED")])
def test_a_bound_is_kept_up_to_its_own_value(measured, verdict):
    lines = []
    (result,) = run([Bench("walk", "a claim", 3.0, lambda: measured)], lines.append, measured=lambda one: one.measure())
    assert result.is_within == (verdict == "within")
    assert verdict in lines[0]
    assert "a claim" in lines[0]
    assert json.loads(as_json([result]).replace("NaN", "null"))[0]["is_within"] == result.is_within


def test_two_benches_of_one_name_are_refused(monkeypatch):
    monkeypatch.setattr(runner, "BENCHES", {})

    def walk():
        return 1.0

    assert bench("a claim", bound=2.0)(walk) is walk
    with pytest.raises(ValueError, match="two benches are called walk"):
        bench("another", bound=2.0)(walk)


def test_every_module_with_benches_is_loaded():
    runner.load()
    loaded = {one.measure.__module__.rpartition(".")[2] for one in runner.BENCHES.values()}
    written = {path.stem for path in Path(__file__).parent.glob("*.py")} - {"__main__", "runner", "test_runner"}
    assert loaded == written


@pytest.mark.parametrize(("measured", "code"), [(1.0, 0), (2.5, 1)])
def test_the_exit_code_is_that_of_the_worst_bench(monkeypatch, tmp_path, capsys, measured, code):
    benches = {
        "walk": Bench("walk", "a claim", 2.0, lambda: measured),
        "run": Bench("run", "a claim", 2.0, lambda: 1.5),
    }
    monkeypatch.setattr(command, "BENCHES", benches)
    monkeypatch.setattr(command, "load", lambda: None)
    written = tmp_path / "results.json"
    assert command.main(["--json", str(written)], measured=lambda one: one.measure()) == code
    assert [one["ratio"] for one in json.loads(written.read_text())] == [1.5, measured]
    assert capsys.readouterr().out.count("\n") == 2


def test_what_is_left_for_its_name_runs_under_it_alone(monkeypatch, capsys):
    benches = {
        "walk": Bench("walk", "a claim", 2.0, lambda: 1.0),
        "climb": Bench("climb", "a claim", 2.0, lambda: 1.0, only_by_name=True),
    }
    monkeypatch.setattr(command, "BENCHES", benches)
    monkeypatch.setattr(command, "load", lambda: None)
    command.main([], measured=lambda one: one.measure())
    assert "climb" not in capsys.readouterr().out
    command.main(["climb"], measured=lambda one: one.measure())
    assert "climb" in capsys.readouterr().out


def test_a_bench_that_is_not_there_is_named(capsys):
    with pytest.raises(SystemExit):
        command.main(["somersault"])
    assert "somersault" in capsys.readouterr().err


def test_a_bench_is_measured_in_a_process_of_its_own():
    seen = Bench("margins_of_a_wear", "a claim", 2.0, lambda: pytest.fail("measured here"))
    assert runner.in_own_process(seen) > 0
