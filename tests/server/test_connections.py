"""Connections that are kept between requests die while nobody looks: the next request and the next job are done.

Requests and jobs are taken as a server and a worker take them, with all that is done before and after each. On SQLite
nobody can end a connection, and what is asked is only that all of it is answered.
"""

from types import SimpleNamespace
from uuid import uuid4

import pytest
from celery.app.trace import build_tracer
from celery.fixups.django import DjangoWorkerFixup
from django.core.wsgi import get_wsgi_application
from django.db import connection
from django.test import RequestFactory

from server.core import jobs
from server.core.models import Job
from server.core.services import RUN_JOB, enqueue
from server.worker import app

pytestmark = pytest.mark.django_db(transaction=True)
KEPT = "SELECT pid FROM pg_stat_activity WHERE datname = current_database() AND backend_type = 'client backend'"


@pytest.fixture
def ended():
    """Ends whatever connections are kept, and says how many there were; None where nobody can."""
    if connection.vendor == "sqlite":
        yield lambda: None
        return
    import psycopg

    # A pool of its own: in another's, connections may be out that threads of tests before took with them.
    connection.close()
    connection.close_pool()
    with psycopg.connect(**connection.get_connection_params(), autocommit=True) as own:

        def end():
            kept = {pid for (pid,) in own.execute(KEPT)} - {own.info.backend_pid}
            return sum(own.execute("SELECT pg_terminate_backend(%s, 60000)", [pid]).fetchone()[0] for pid in kept)

        yield end


def status():
    """What a request is answered that asks the database."""
    statuses = []
    environ = RequestFactory().get("/api/v1/groups/").environ
    answer = get_wsgi_application()(environ, lambda line, _headers: statuses.append(line))
    b"".join(answer)
    answer.close()
    return statuses[0]


def some(n_ended):
    return n_ended is None or n_ended > 0


def test_the_next_request_is_answered(ended):
    assert status() == "200 OK"
    for _ in range(3):
        assert some(ended())
        assert status() == "200 OK"


@pytest.fixture
def worker():
    """Does what a worker does before and after each task."""
    fixup = DjangoWorkerFixup(app)
    fixup.worker = SimpleNamespace(pool_cls="prefork")
    from celery import signals

    signals.task_prerun.connect(fixup.on_task_prerun)
    signals.task_postrun.connect(fixup.on_task_postrun)
    yield
    signals.task_prerun.disconnect(fixup.on_task_prerun)
    signals.task_postrun.disconnect(fixup.on_task_postrun)


def test_the_next_job_is_done_at_its_first_attempt(ended, worker, monkeypatch):
    done = []
    monkeypatch.setattr(jobs, "_handlers", {"test.note": done.append})
    trace = build_tracer(RUN_JOB, app.tasks[RUN_JOB], app=app)
    for n_done in range(1, 4):
        job = enqueue("test.note", subject=uuid4())
        connection.close()
        assert some(ended())
        trace(str(uuid4()), [str(job.pk)], {}, {"is_eager": False})
        assert len(done) == n_done
        job.refresh_from_db()
        assert (job.state, job.attempts) == (Job.State.DONE, 1)
