"""The service as its operator starts it: every part is a process, and any of them may be killed.

Where the environment names a database and a broker, the service runs on those, in a database of its own.
"""

import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable
from pathlib import Path
from urllib.parse import urlsplit
from uuid import UUID, uuid4

import pytest

from tests.server.probe.tasks import KIND, notes_of

PATIENCE_S = 120
ROOT = Path(__file__).resolve().parents[2]
ENQUEUE = f"""
import django, sys, uuid
django.setup()
from server.core.services import enqueue
for subject in sys.argv[1:]:
    enqueue({KIND!r}, subject=uuid.UUID(subject))
"""
STATES = """
import django
django.setup()
from server.core.models import Job
print(*sorted(f"{job.subject}:{job.state}:{job.attempts}" for job in Job.objects.all()))
"""


def wait_until(condition: Callable[[], bool]) -> None:
    deadline = time.monotonic() + PATIENCE_S
    while not condition():
        assert time.monotonic() < deadline, "the service did not come to this state"
        time.sleep(0.1)


EMBEDDED_BROKER = "REDIS_URL" not in os.environ
PARTS = ("web", "worker", "sweep", *(["valkey-server"] if EMBEDDED_BROKER else []))


class Service:
    """The service in a place of its own, on a free port."""

    def __init__(self, place: Path, database: dict[str, str]) -> None:
        self.place = place
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        given = {name: value for name, value in os.environ.items() if not name.startswith("COMMONWEAR_")}
        own = {"COMMONWEAR_DATA_DIR": str(place), "DJANGO_SETTINGS_MODULE": "tests.server.probe.settings"}
        self.environment = given | own | database
        command = [sys.executable, "-m", "server", "up", "--port", str(self.port), "--processes", "2"]
        self.process = subprocess.Popen(command, cwd=ROOT, env=self.environment, stderr=subprocess.DEVNULL)

    def answers(self) -> bool:
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{self.port}/health/ready", timeout=5) as answer:
                return answer.status == 200
        except (urllib.error.URLError, ConnectionError, TimeoutError):
            return False

    def part(self, word: str) -> int:
        """The process among the supervisor's children whose command has this word."""
        children = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children").read_text().split()
        commands = {int(child): Path(f"/proc/{child}/cmdline").read_bytes().decode() for child in children}
        return next(child for child, command in commands.items() if word in command)

    def python(self, code: str, *words: str) -> str:
        command = [sys.executable, "-c", code, *words]
        return subprocess.run(
            command, cwd=ROOT, env=self.environment, check=True, capture_output=True, text=True
        ).stdout

    def notes(self, subject: UUID) -> list[str]:
        file = notes_of(self.place, subject)
        return file.read_text().split() if file.exists() else []


@pytest.fixture
def database():
    """The variable that names an empty database; none for SQLite, which makes its own in the service's place."""
    address = os.environ.get("DATABASE_URL")
    if address is None:
        yield {}
        return
    import psycopg

    name = f"commonwear_up_{uuid4().hex[:12]}"
    with psycopg.connect(address, dbname="postgres", autocommit=True) as own:
        own.execute(f"CREATE DATABASE {name}")
        yield {"DATABASE_URL": urlsplit(address)._replace(path=f"/{name}").geturl()}
        own.execute(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture
def service(tmp_path_factory, database):
    running = Service(tmp_path_factory.mktemp("up"), database)
    yield running
    if running.process.poll() is None:
        running.process.send_signal(signal.SIGTERM)
        running.process.wait(PATIENCE_S)


ONCE_MORE = ["begun", "begun", "ended"]


def test_jobs_outlive_worker_and_broker_and_a_stop_leaves_nothing(service):
    wait_until(service.answers)
    subjects = [uuid4() for _ in range(3)]
    service.python(ENQUEUE, *map(str, subjects))

    # Two are at work, as many as the worker has processes; of the third only the queue knows, and the queue is lost.
    wait_until(lambda: sum(service.notes(subject) == ["begun"] for subject in subjects) == 2)
    at_work = [subject for subject in subjects if service.notes(subject)]
    (queued,) = set(subjects) - set(at_work)
    killed = [service.part(word) for word in PARTS if word in {"worker", "valkey-server"}]
    for process in killed:
        os.kill(process, signal.SIGKILL)
    wait_until(lambda: all(service.notes(subject) == ONCE_MORE for subject in at_work))
    wait_until(lambda: service.notes(queued) == ["begun"])
    wait_until(lambda: all(f"{subject}:done:2" in service.python(STATES) for subject in at_work))

    parts = [service.part(word) for word in PARTS]
    assert not set(parts) & set(killed)
    service.process.send_signal(signal.SIGTERM)
    assert service.process.wait(PATIENCE_S) == 0
    assert not service.answers()
    assert [part for part in parts if Path(f"/proc/{part}").exists()] == []
    assert all(service.notes(subject) == ONCE_MORE for subject in at_work), "done once"
    assert f"{queued}:running:1" in service.python(STATES), "cut off by the stop, to be run again at the next start"
