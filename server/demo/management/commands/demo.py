"""Set up the invented community and serve it."""

import fcntl
import os
import secrets
import shutil
import signal
import subprocess
import sys
import time
from argparse import ArgumentParser
from pathlib import Path
from typing import Any, NoReturn

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from server.core import clock
from server.core.management.commands.up import refuse_taken_port
from server.demo import check, play
from server.demo.client import Visitor, wait_for
from server.demo.community import invent, load_people
from server.demo.scenario import scenario

OURS = ("COMMONWEAR_", "DATABASE_URL", "REDIS_URL")


class Command(BaseCommand):
    help = "Set up an invented community, play three cut-off dates, and serve the result on loopback."
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--check", action="store_true", help="assert the promise over HTTP, print JSON, and stop")
        parser.add_argument("--port", type=int, default=8000, help="the port on loopback (default 8000)")

    def handle(self, *, check: bool, port: int, **_: Any) -> None:
        if settings.CLOCK_FILE is None:  # not started by ourselves
            refuse_taken_port("127.0.0.1", port)
            folder = settings.DATA_DIR / "demo"
            _refuse_a_second_one(folder)
            _start_afresh(folder)
        # Whoever ends this process ends what it has started.
        signal.signal(signal.SIGTERM, _stop)
        signal.signal(signal.SIGHUP, _stop)
        self.started = time.monotonic()
        call_command("migrate", verbosity=0)
        self._say("database ready")
        service = subprocess.Popen([sys.executable, "-m", "server", "up", "--port", str(port)], stdout=sys.stderr)  # noqa: S603
        try:
            self._perform(f"http://127.0.0.1:{port}", service, settings.CLOCK_FILE, ends=check)
        except KeyboardInterrupt:
            pass
        finally:
            service.send_signal(signal.SIGTERM)
            service.wait(timeout=60)

    def _perform(self, address: str, service: subprocess.Popen[bytes], clock_file: Path, *, ends: bool) -> None:
        visitor = Visitor(address)
        wait_for("the service", lambda: self._is_ready(visitor, service))
        self._say(f"service ready at {address}")
        story = scenario()
        community = invent(story)
        loaded = load_people(story, community, self._say)
        stage = play.Stage(story, clock_file, visitor, loaded, self._say)
        play.play(stage, community)
        if ends:
            figures = check.check(stage, community)
            figures["seconds"] = round(time.monotonic() - self.started, 1)
            self.stdout.write(check.report(figures))
            return
        play.leave_some(stage, community)
        self._tell(address, loaded.sign_ins, story.password)
        service.wait()

    @staticmethod
    def _is_ready(visitor: Visitor, service: subprocess.Popen[bytes]) -> bool | None:
        if service.poll() is not None:
            raise SystemExit("The service stopped at its start; its words stand above.")
        try:
            return visitor.get("/health/ready", expect=None).status == 200 or None
        except OSError:
            return None

    def _tell(self, address: str, sign_ins: dict[str, str], password: str) -> None:
        lines = [f"  {who:<24} {name}" for who, name in sign_ins.items()]
        self.stdout.write(
            "\n".join(
                (
                    "",
                    f"Open {address}/",
                    "Everybody in it is invented. Sign-in names, for the pages and the API:",
                    *lines,
                    f"  password of all of them: {password}",
                    f"Wears wait for the moderator of {play.TO_MODERATE}. The date stands still at {clock.today()}:",
                    f"write a later one into {settings.CLOCK_FILE}, and the service passes each cut-off up to it.",
                    "Ctrl-C stops everything.",
                )
            )
        )

    def _say(self, words: str) -> None:
        self.stderr.write(f"[{time.monotonic() - self.started:6.1f} s] {words}")


def _refuse_a_second_one(folder: Path) -> None:
    """Each start empties the folder, so one at a time; the lock is this process's and goes with it, however it ends."""
    lock = os.open(folder.with_suffix(".lock"), os.O_CREAT | os.O_RDWR, 0o600)
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        raise CommandError(
            "The demo is running in this folder already. Stop it first: each start begins afresh."
        ) from None
    os.set_inheritable(lock, True)


def _start_afresh(folder: Path) -> NoReturn:
    """Begin in an empty folder with an invented date, in a process that knows of both from its first line.

    Of the settings around it none is taken over: the keys, the journal and the database that they name are real ones.
    """
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(mode=0o700)
    (folder / "date").write_text(scenario().founded_on.isoformat(), encoding="ascii")
    (folder / "slot-key").write_text(secrets.token_hex(32), encoding="ascii")
    environment = {name: value for name, value in os.environ.items() if not name.startswith(OURS)} | {
        "COMMONWEAR_DEMO": "yes",
        "COMMONWEAR_DATA_DIR": str(folder),
        "COMMONWEAR_CLOCK_FILE": str(folder / "date"),
        "COMMONWEAR_SLOT_KEY_FILE": str(folder / "slot-key"),
        "COMMONWEAR_FIRST_CUT_OFF": scenario().first_cut_off.isoformat(),
        "OPENBLAS_NUM_THREADS": "1",
        "OMP_NUM_THREADS": "1",
    }
    os.execve(sys.executable, [sys.executable, "-m", "server", *sys.argv[1:]], environment)  # noqa: S606


def _stop(*_: object) -> None:
    raise KeyboardInterrupt
