"""The service as its operator starts it: every part is a process, and any of them may be killed."""

import os
import signal
import urllib.error
import urllib.request
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from uuid import UUID, uuid4

import pytest

from tests.server.probe.tasks import KIND, notes_of
from tests.server.running import PARTS, Service, wait_until

ENQUEUE = f"""
import django, sys, uuid
django.setup()
from server.core.services import enqueue
for subject in sys.argv[1:]:
    enqueue({KIND!r}, subject=uuid.UUID(subject))
"""


def notes(service: Service, subject: UUID) -> list[str]:
    file = notes_of(service.place, subject)
    return file.read_text().split() if file.exists() else []


@pytest.fixture
def service(tmp_path_factory, database):
    running = Service(tmp_path_factory.mktemp("up"), database, settings="tests.server.probe.settings")
    running.start()
    yield running
    running.stop()


ONCE_MORE = ["begun", "begun", "ended"]


def test_jobs_outlive_worker_and_broker_and_a_stop_leaves_nothing(service):
    wait_until(service.answers)
    subjects = [uuid4() for _ in range(3)]
    service.python("-c", ENQUEUE, *map(str, subjects))

    # Two are at work, as many as the worker has processes; of the third only the queue knows, and the queue is lost.
    wait_until(lambda: sum(notes(service, subject) == ["begun"] for subject in subjects) == 2)
    at_work = [subject for subject in subjects if notes(service, subject)]
    (queued,) = set(subjects) - set(at_work)
    killed = [service.part(word) for word in PARTS if word in {"worker", "valkey-server"}]
    for process in killed:
        os.kill(process, signal.SIGKILL)
    wait_until(lambda: all(notes(service, subject) == ONCE_MORE for subject in at_work))
    wait_until(lambda: notes(service, queued) == ["begun"])
    wait_until(lambda: {f"{subject}:done:2" for subject in at_work} <= set(service.jobs()))

    parts = [service.part(word) for word in PARTS]
    assert not set(parts) & set(killed)
    assert service.stop() == 0
    assert not service.answers()
    assert [part for part in parts if Path(f"/proc/{part}").exists()] == []
    assert all(notes(service, subject) == ONCE_MORE for subject in at_work), "done once"
    assert f"{queued}:running:1" in service.jobs(), "cut off by the stop, to be run again at the next start"


@pytest.fixture
def narrow(tmp_path_factory, database):
    """A service whose `web` has room for two requests, and a line."""
    place = tmp_path_factory.mktemp("narrow")
    running = Service(place, database, settings="tests.server.probe.settings", COMMONWEAR_MOST_REQUESTS="2")
    running.start()
    yield running
    running.stop()


def status(service: Service, path: str) -> int:
    try:
        with urllib.request.urlopen(f"{service.address}{path}", timeout=60) as answer:
            return int(answer.status)
    except urllib.error.HTTPError as refused:
        return refused.code


def test_what_finds_no_room_is_told_at_once_and_nobody_s_work_is_cut_off(narrow, settings):
    wait_until(narrow.answers)
    room = 2 + settings.MOST_IN_LINE
    subjects = [uuid4() for _ in range(room + 1)]
    with ThreadPoolExecutor(len(subjects)) as hands:
        taken = [hands.submit(status, narrow, f"/slow/{subject}") for subject in subjects]
        try:
            # Nobody has let one of them go on, so the one that is answered was refused: room and line are full.
            wait_until(lambda: any(one.done() for one in taken))
            wait_until(lambda: sum(notes(narrow, subject) == ["begun"] for subject in subjects) == 2)
            assert [status(narrow, path) for path in ("/api/v1/groups/", "/", "/health/live", "/health/ready")] == [
                503,
                503,
                200,
                200,
            ]
        finally:
            for subject in subjects:
                notes_of(narrow.place, subject).with_suffix(".go").touch()
        assert sorted(one.result() for one in taken) == [200] * room + [503]
    assert status(narrow, "/api/v1/groups/") == 200
