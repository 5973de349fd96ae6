"""What a public server has to be: clean under the checks of Django and bandit, and patient when it is stopped."""

import os
import re
import signal
import socket
import subprocess
import sys
import threading
import urllib.request
from uuid import UUID, uuid4

import pytest

from tests.house.tree import ROOT, files, name_of
from tests.server.probe.tasks import SLOW, notes_of
from tests.server.running import PATIENCE_S, Service, wait_until

ENQUEUE = """
import django, sys, uuid
django.setup()
from server.core.services import enqueue
enqueue(sys.argv[1], subject=uuid.UUID(sys.argv[2]))
"""

PUBLIC = {
    "COMMONWEAR_HOSTS": "pool.example",
    "COMMONWEAR_CONTROLLER": "An invented society",
    "COMMONWEAR_CONTACT": "erasure at pool.example",
    "COMMONWEAR_COUNTRY": "Atlantis",
    "COMMONWEAR_LEGAL_BASIS": "explicit consent",
    "COMMONWEAR_MINORS": "adults-only",
    "COMMONWEAR_TRUSTED_PROXIES": "1",
}


def checked(tmp_path, **changed: str) -> subprocess.CompletedProcess[str]:
    given = {name: value for name, value in os.environ.items() if not name.startswith("COMMONWEAR_")}
    given.pop("DATABASE_URL", None)
    places = {"COMMONWEAR_DATA_DIR": str(tmp_path / "data"), "COMMONWEAR_ERASURE_JOURNAL": str(tmp_path / "journal")}
    command = [sys.executable, "-m", "server", "check", "--deploy", "--fail-level", "WARNING"]
    environment = given | places | PUBLIC | changed
    return subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)


def test_a_public_server_has_nothing_to_warn_of(tmp_path):
    run = checked(tmp_path)
    assert run.returncode == 0, run.stderr
    assert "no issues" in run.stdout


@pytest.mark.parametrize(
    ("variable", "value", "said"),
    [("COMMONWEAR_DEBUG", "yes", "commonwear.E006"), ("COMMONWEAR_CONTACT", "", "commonwear.E002")],
)
def test_a_public_server_that_is_not_ready_for_it_is_told(tmp_path, variable, value, said):
    run = checked(tmp_path, **{variable: value})
    assert run.returncode == 1
    assert said in run.stderr


def test_bandit_has_nothing_to_say():
    command = [sys.executable, "-m", "bandit", "-q", "-r", "server", "pooling", "-c", "pyproject.toml"]
    run = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stdout
    assert run.stdout.strip() == ""


def test_each_excuse_from_bandit_has_its_reason():
    bare = [
        f"{name_of(path)}:{number}"
        for path in files("server", "pooling")
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        if "nosec" in line and not re.search(r"\(.+\)  # nosec B\d{3}(, B\d{3})*$", line)
    ]
    assert bare == []


# A stop that is asked for


@pytest.fixture
def service(tmp_path, database):
    running = Service(tmp_path, database, settings="tests.server.probe.settings")
    running.start()
    wait_until(running.answers)
    yield running
    running.stop()


def notes(service: Service, subject: UUID) -> list[str]:
    file = notes_of(service.place, subject)
    return file.read_text().split() if file.exists() else []


def let_go_on(service: Service, subject: UUID) -> None:
    notes_of(service.place, subject).with_suffix(".go").touch()


def test_web_and_worker_end_what_they_are_at_when_they_are_told_to_stop(service):
    in_web, in_worker, said = uuid4(), uuid4(), []

    def ask():
        with urllib.request.urlopen(f"{service.address}/slow/{in_web}", timeout=PATIENCE_S) as answer:
            said.append(answer.read())

    asking = threading.Thread(target=ask)
    asking.start()
    service.python("-c", ENQUEUE, SLOW, str(in_worker))
    wait_until(lambda: notes(service, in_web) == notes(service, in_worker) == ["begun"])
    told = [service.part("web"), service.part("worker")]
    for process in told:
        os.kill(process, signal.SIGTERM)
    for subject in (in_web, in_worker):
        let_go_on(service, subject)
    asking.join(PATIENCE_S)
    assert said == [b"slow and whole"]
    wait_until(lambda: f"{in_worker}:done:1" in service.jobs())
    assert notes(service, in_worker) == ["begun", "ended"]
    wait_until(lambda: service.answers() and {service.part("web"), service.part("worker")}.isdisjoint(told))


def test_a_connection_lives_on_after_a_refusal_that_needed_no_body(service):
    place = ("127.0.0.1", service.port)
    refused = "POST /api/v1/wears/", "Host: 127.0.0.1", "Content-Length: 2", "Expect: 100-continue"
    then = "GET /health/live", "Host: 127.0.0.1", "Connection: close"
    with socket.create_connection(place, timeout=PATIENCE_S) as line, line.makefile("rb") as answers:
        line.sendall(head(*refused))
        assert answers.readline() == b"HTTP/1.1 100 Continue\r\n"  # the server says so when it begins to read
        line.sendall(b"{}" + head(*then))
        told = answers.read()
    assert re.findall(rb"HTTP/1\.1 (\d+)", told) == [b"401", b"200"]


def head(asked: str, *headers: str) -> bytes:
    return "\r\n".join((f"{asked} HTTP/1.1", *headers, "", "")).encode()
