"""The service as its operator starts it, for tests that kill parts of it: in a place of its own, on a free port."""

import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit
from uuid import uuid4

PATIENCE_S = 120
LOG = "service.log"
ROOT = Path(__file__).resolve().parents[2]
EMBEDDED_BROKER = "REDIS_URL" not in os.environ
PARTS = ("web", "worker", "sweep", *(["valkey-server"] if EMBEDDED_BROKER else []))
STATES = """
import django
django.setup()
from server.core.models import Job
print(*sorted(f"{job.subject}:{job.state}:{job.attempts}" for job in Job.objects.all()))
"""


@contextmanager
def scratch_database(address: str | None) -> Iterator[dict[str, str]]:
    """For a service in processes of its own, the variable that names an empty database; none for SQLite."""
    if address is None:
        yield {}
        return
    import psycopg

    name = f"commonwear_up_{uuid4().hex[:12]}"
    with psycopg.connect(address, dbname="postgres", autocommit=True) as own:
        own.execute(f"CREATE DATABASE {name}")
        try:
            yield {"DATABASE_URL": urlsplit(address)._replace(path=f"/{name}").geturl()}
        finally:
            own.execute(f"DROP DATABASE {name} WITH (FORCE)")


def wait_until(condition: Callable[[], bool]) -> None:
    deadline = time.monotonic() + PATIENCE_S
    while not condition():
        assert time.monotonic() < deadline, "the service did not come to this state"
        time.sleep(0.1)


class Service:
    """Where the environment names a database and a broker, it runs on those; `database` names one of its own."""

    def __init__(
        self,
        place: Path,
        database: dict[str, str],
        *,
        settings: str,
        options: Sequence[str] = ("--processes", "2"),
        **variables: str,
    ) -> None:
        self.place, self.options = place, options
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        given = {name: value for name, value in os.environ.items() if not name.startswith("COMMONWEAR_")}
        own = {"COMMONWEAR_DATA_DIR": str(place), "DJANGO_SETTINGS_MODULE": settings}
        self.environment = given | own | variables | database
        self.process: subprocess.Popen[bytes] | None = None

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        command = [sys.executable, "-m", "server", "up", "--port", str(self.port), *self.options]
        with (self.place / LOG).open("ab") as log:
            self.process = subprocess.Popen(command, cwd=ROOT, env=self.environment, stdout=log, stderr=log)

    def stop(self) -> int:
        """Ask it to end, as an operator would; its exit code."""
        assert self.process is not None
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM)
        return self.process.wait(PATIENCE_S)

    def answers(self) -> bool:
        try:
            with urllib.request.urlopen(f"{self.address}/health/ready", timeout=5) as answer:
                return bool(answer.status == 200)
        except (urllib.error.URLError, ConnectionError, TimeoutError):
            return False

    def part(self, word: str) -> int:
        """The process among the supervisor's children whose command has this word."""
        assert self.process is not None
        children = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children").read_text().split()
        commands = {int(child): Path(f"/proc/{child}/cmdline").read_bytes().decode() for child in children}
        return next(child for child, command in commands.items() if word in command)

    def python(self, *words: str, said: str = "", **variables: str) -> str:
        """What a process of the same environment prints, given a line."""
        command, environment = [sys.executable, *words], self.environment | variables
        done = subprocess.run(
            command, cwd=ROOT, env=environment, check=True, stdout=subprocess.PIPE, text=True, input=said
        )
        return done.stdout

    def jobs(self) -> list[str]:
        """Each job as subject:state:attempts."""
        return self.python("-c", STATES).split()
