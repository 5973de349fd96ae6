"""Benches: each is a function that returns a ratio measured within one run, with the bound that it must not pass.

A ratio of two times, taken turn by turn on one machine, holds on a slow machine and on a fast one; a time does not. To
add a bench, add a module to this folder with a function under `@bench`.
"""

import importlib
import json
import multiprocessing
import pkgutil
import time
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from pathlib import Path

Work = Callable[[], object]


@dataclass(frozen=True, slots=True)
class Bench:
    """A claim about cost: how many times the yardstick the work takes, which must stay within the bound."""

    name: str
    claim: str
    bound: float
    measure: Callable[[], float]
    only_by_name: bool = False


@dataclass(frozen=True, slots=True)
class Result:
    """What a bench measured."""

    name: str
    claim: str
    ratio: float
    bound: float

    @property
    def is_within(self) -> bool:
        """Whether the bound was kept; no number keeps none."""
        return self.ratio <= self.bound


BENCHES: dict[str, Bench] = {}


def bench(
    claim: str, *, bound: float, only_by_name: bool = False
) -> Callable[[Callable[[], float]], Callable[[], float]]:
    """Register a function that returns a ratio, under its own name.

    `only_by_name`: it takes minutes, or wants a PostgreSQL of this machine, so it is left out unless it is asked for.
    """

    def register(measure: Callable[[], float]) -> Callable[[], float]:
        name = measure.__name__
        if name in BENCHES:
            raise ValueError(f"two benches are called {name}")
        BENCHES[name] = Bench(name, claim, bound, measure, only_by_name)
        return measure

    return register


def ratio(work: Work, yardstick: Work, *, rounds: int = 5, clock: Callable[[], float] = time.process_time) -> float:
    """Fastest time of the work over the fastest time of the yardstick, each done `rounds` times turn by turn.

    The fastest, since whatever else the machine does can only add time; turn by turn, since it may do so for a while.
    The clock counts the seconds this process computes; work that waits, or that other processes do, wants
    `time.perf_counter`.
    """
    seconds = [(_seconds(work, clock), _seconds(yardstick, clock)) for _ in range(rounds)]
    return min(of_work for of_work, _ in seconds) / min(of_yardstick for _, of_yardstick in seconds)


def _seconds(work: Work, clock: Callable[[], float]) -> float:
    start = clock()
    work()
    return clock() - start


def load() -> None:
    """Import every module of this folder, so that their benches are registered."""
    place = Path(__file__).parent
    for module in pkgutil.iter_modules([str(place)]):
        if module.name not in ("__main__", "runner") and not module.name.startswith("test_"):
            importlib.import_module(f"{__package__}.{module.name}")


def in_own_process(one: Bench) -> float:
    """Measure where nothing was measured before: what others leave in memory makes the same work slower."""
    with ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn")) as pool:
        return pool.submit(_measured, one.name).result()


def _measured(name: str) -> float:
    load()
    return BENCHES[name].measure()


def run(
    benches: Iterable[Bench], say: Callable[[str], object], *, measured: Callable[[Bench], float]
) -> tuple[Result, ...]:
    """Measure one bench after the other, saying each line of the table as soon as it is known."""
    chosen = tuple(benches)
    width = max((len(one.name) for one in chosen), default=0)
    results = []
    for one in chosen:
        result = Result(one.name, one.claim, measured(one), one.bound)
        results.append(result)
        verdict = "within" if result.is_within else "MISSED"
        say(f"{one.name:<{width}}  {result.ratio:8.3g}  at most {one.bound:<6g} {verdict}  {one.claim}")
    return tuple(results)


def as_json(results: Iterable[Result]) -> str:
    """The results as JSON, one object a bench."""
    return json.dumps([asdict(result) | {"is_within": result.is_within} for result in results], indent=2) + "\n"
