"""Keeps the parts of a one-machine service running: starts them, restarts one that dies, and stops them all."""

import ctypes
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from threading import Event

GRACE_S = 6.0
LONGEST_PAUSE_S = 10.0
GLANCE_S = 0.3
_PR_SET_PDEATHSIG = 1


def _end_with_parent() -> None:
    """Ask Linux to stop this process should the supervisor be killed: no part outlives it and holds its place."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGTERM)


@dataclass
class Part:
    """One process of the service, in a group of its own so that what it started can be ended with it."""

    name: str
    command: Sequence[str]
    quiet: bool = False
    process: subprocess.Popen[bytes] | None = None
    _pause_s: float = 0.5
    _not_before: float = 0.0
    _started: float = 0.0

    def start(self) -> None:
        output = subprocess.DEVNULL if self.quiet else None
        self.process = subprocess.Popen(  # noqa: S603  (our own commands)
            self.command, stdout=output, start_new_session=True, preexec_fn=_end_with_parent
        )
        self._started = time.monotonic()

    @property
    def alive(self) -> bool:
        return self.process is not None and self.process.poll() is None

    def restart_if_dead(self) -> bool:
        """Start it again, after a pause that grows while it keeps dying at once; say whether it was started."""
        if self.alive:
            return False
        now = time.monotonic()
        if self._not_before < self._started:
            self._clear_up()
            lived_s = now - self._started
            self._pause_s = 0.5 if lived_s > LONGEST_PAUSE_S else min(2 * self._pause_s, LONGEST_PAUSE_S)
            self._not_before = now + self._pause_s
        if now < self._not_before:
            return False
        self.start()
        return True

    def ask_to_stop(self) -> None:
        if self.process is not None and self.alive:
            self.process.terminate()

    def stop_by(self, deadline: float) -> None:
        """Wait for it until `deadline`, then end it and what it started. Work cut off is a row and runs again."""
        if self.process is None:
            return
        with suppress(subprocess.TimeoutExpired):
            self.process.wait(max(0.0, deadline - time.monotonic()))
        self._clear_up()
        self.process.wait()

    def _clear_up(self) -> None:
        """End what is left of its group, such as the children of a worker that was killed."""
        if self.process is not None:
            with suppress(ProcessLookupError):
                os.killpg(self.process.pid, signal.SIGKILL)


@dataclass
class Supervisor:
    """Runs its parts until it is told to stop. The first parts must be usable before the others are started."""

    first: Sequence[Part]
    usable: Callable[[], bool]
    others: Sequence[Part]
    say: Callable[[str], None]
    stopping: Event = field(default_factory=Event)

    def run(self, *, when_ready: Callable[[], None], ready: Callable[[], bool]) -> None:
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, lambda *_: self.stopping.set())
        try:
            self._start()
            announced = False
            while not self.stopping.wait(GLANCE_S):
                if not announced and ready():
                    when_ready()
                    announced = True
                for part in (*self.first, *self.others):
                    if part.restart_if_dead():
                        self.say(f"{part.name} had ended and was started again")
        finally:
            self._stop()

    def _start(self) -> None:
        for part in self.first:
            part.start()
        while not self.usable() and not self.stopping.wait(GLANCE_S):
            for part in self.first:
                part.restart_if_dead()
        for part in self.others:
            part.start()

    def _stop(self) -> None:
        for parts in (self.others, self.first):
            deadline = time.monotonic() + GRACE_S
            for part in parts:
                part.ask_to_stop()
            for part in parts:
                part.stop_by(deadline)
