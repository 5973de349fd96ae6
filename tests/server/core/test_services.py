"""Jobs: the row is the truth, whatever becomes of the queue and of those who work."""

from datetime import date, timedelta
from uuid import UUID, uuid4

import pytest
from django.db import transaction
from kombu import Connection
from kombu.exceptions import OperationalError

from server.core import clock as clocks
from server.core import jobs, locks, services
from server.core.models import IdempotencyKey, Job
from server.worker import app

KIND = "test.note"


@pytest.fixture
def done(monkeypatch):
    """Subjects in the order in which a handler saw them."""
    subjects: list[UUID] = []
    monkeypatch.setattr(jobs, "_handlers", {KIND: subjects.append})
    return subjects


@pytest.fixture
def failing(monkeypatch):
    def fail(_subject: UUID) -> None:
        raise ZeroDivisionError("a value of somebody")

    monkeypatch.setattr(jobs, "_handlers", {KIND: fail})


@pytest.fixture
def sent(monkeypatch):
    """Ids put on the queue."""
    ids: list[str] = []
    monkeypatch.setattr(app, "send_task", lambda name, args: ids.append(args[0]))
    return ids


@pytest.fixture
def broker_away(monkeypatch, tmp_path, settings):
    def fail(*_args, **_words):
        raise OperationalError("nobody listens")

    def nobody() -> Connection:
        options = settings.CELERY_BROKER_TRANSPORT_OPTIONS
        return Connection(f"redis+socket://{tmp_path}/nobody.sock", transport_options=options)

    monkeypatch.setattr(app, "send_task", fail)
    monkeypatch.setattr(app, "connection_for_write", nobody)


@pytest.mark.django_db
def test_a_job_is_done_once_however_often_it_is_delivered(done, sent):
    subject = uuid4()
    job = services.enqueue(KIND, subject=subject)
    for _ in range(3):
        services.run_job(job.pk)
    job.refresh_from_db()
    assert done == [subject]
    assert (job.state, job.attempts, job.fault) == (Job.State.DONE, 1, "")


@pytest.mark.django_db
def test_a_job_of_a_killed_worker_runs_again(done, sent):
    job = services.enqueue(KIND, subject=uuid4())
    Job.objects.filter(pk=job.pk).update(state=Job.State.RUNNING, attempts=1)  # what a killed worker leaves
    services.run_job(job.pk)
    job.refresh_from_db()
    assert (job.state, job.attempts, len(done)) == (Job.State.DONE, 2, 1)


@pytest.mark.django_db
def test_a_job_that_is_being_done_is_left_alone(done, sent):
    job = services.enqueue(KIND, subject=uuid4())
    with locks.held(f"job {job.pk}"):
        services.run_job(job.pk)
        assert services.resend_due_jobs() == 0
    assert done == []


@pytest.mark.django_db
def test_a_failing_job_is_tried_five_times_and_keeps_no_value(failing, sent):
    job = services.enqueue(KIND, subject=uuid4())
    for _ in range(jobs.MOST_ATTEMPTS + 2):
        services.run_job(job.pk)
    job.refresh_from_db()
    assert (job.state, job.attempts, job.fault) == (Job.State.FAILED, jobs.MOST_ATTEMPTS, "ZeroDivisionError")


@pytest.mark.django_db
def test_a_job_that_kills_every_worker_ends_too(done, sent):
    job = services.enqueue(KIND, subject=uuid4())
    Job.objects.filter(pk=job.pk).update(state=Job.State.RUNNING, attempts=jobs.MOST_ATTEMPTS)
    services.run_job(job.pk)
    job.refresh_from_db()
    assert (job.state, done) == (Job.State.FAILED, [])


@pytest.mark.django_db(transaction=True)
def test_an_id_is_sent_when_the_transaction_is_committed_and_not_before(done, sent):
    with transaction.atomic():
        job = services.enqueue(KIND, subject=uuid4())
        assert sent == []
    assert sent == [str(job.pk)]


@pytest.mark.django_db(transaction=True)
def test_a_job_of_a_transaction_that_failed_is_neither_kept_nor_sent(done, sent):
    with transaction.atomic():
        services.enqueue(KIND, subject=uuid4())
        transaction.set_rollback(True)
    assert sent == []
    assert not Job.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_a_broker_that_is_away_fails_no_request_and_loses_no_job(done, broker_away):
    job = services.enqueue(KIND, subject=uuid4())
    assert services.resend_due_jobs() == 0
    assert Job.objects.get(pk=job.pk).state == Job.State.DUE


@pytest.mark.django_db
def test_the_sweep_sends_what_is_due_and_what_nobody_runs_any_more(done, sent):
    due, left, finished = (services.enqueue(KIND, subject=uuid4()) for _ in range(3))
    Job.objects.filter(pk=left.pk).update(state=Job.State.RUNNING)
    Job.objects.filter(pk=finished.pk).update(state=Job.State.DONE)
    assert services.resend_due_jobs() == 2
    assert set(sent) == {str(due.pk), str(left.pk)}


@pytest.mark.django_db
def test_the_sweep_does_not_fill_a_full_queue(done, sent, monkeypatch):
    services.enqueue(KIND, subject=uuid4())
    monkeypatch.setattr(services, "_n_waiting", lambda: services.FULL_QUEUE)
    assert services.resend_due_jobs() == 0


@pytest.mark.django_db
def test_one_broken_part_of_the_sweep_does_not_stop_the_others(monkeypatch, clock):
    seen = []

    def broken(_today: date) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(jobs, "_sweepers", {"broken": broken, "whole": seen.append})
    services.sweep()
    assert seen == [clocks.today()]


@pytest.mark.django_db
def test_done_jobs_and_old_answers_are_dropped_in_time(clock, done, sent):
    today = clocks.today()
    job = services.enqueue(KIND, subject=uuid4())
    services.run_job(job.pk)
    for age in range(3):
        IdempotencyKey.objects.create(
            mark=f"{age:032}",
            account_mark="0" * 32,
            body_digest="0" * 32,
            key_version=1,
            answer=b"",
            answered_on=today - timedelta(days=age),
        )
    assert (services.drop_settled_jobs(today), services.drop_old_answers(today)) == (0, 1)
    assert services.drop_settled_jobs(today + timedelta(days=1)) == 1
    assert IdempotencyKey.objects.count() == 2
