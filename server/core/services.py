"""Jobs and the sweep. A job's row is the truth; the queue only carries its id, and may lose it at any time."""

import logging
from datetime import date, timedelta
from uuid import UUID

from django.db import transaction
from django.db.models import F
from kombu.exceptions import KombuError
from redis.exceptions import RedisError

from server.core import clock, jobs, journal, locks, logs
from server.core.models import IdempotencyKey, Job
from server.worker import app

RUN_JOB = "core.run_job"
# As many ids as the sweep lets wait in the queue; more would only repeat themselves there.
FULL_QUEUE = 100
DAYS_ANSWERS_KEPT = 1
# Of what a channel of its own meets kombu makes none of its own errors.
BROKER_FAULTS = (KombuError, OSError, RedisError)
log = logging.getLogger(__name__)


def enqueue(kind: str, *, subject: UUID) -> Job:
    """Note a piece of work in the present transaction, and call a worker once it is committed."""
    job = Job.objects.create(kind=kind, subject=subject, request_id=logs.request_id(), changed_on=clock.today())
    transaction.on_commit(lambda: _send(job.pk))
    return job


def _send(job_id: UUID) -> bool:
    """Put an id on the queue. A broker that is away fails nobody's request: the sweep sends the id again."""
    try:
        app.send_task(RUN_JOB, args=[str(job_id)])
    except BROKER_FAULTS as fault:
        log.warning("the broker is away (%s); the sweep will send job %s", type(fault).__name__, job_id)
        return False
    return True


def run_job(job_id: UUID) -> None:
    """Do one job, unless it is done, is being done elsewhere, or has failed too often."""
    with locks.held(f"job {job_id}") as mine:
        if not mine or not _start(job_id):
            return
        job = Job.objects.get(pk=job_id)
        with logs.about(request=job.request_id, job=str(job_id)):
            _handle(job)


def _handle(job: Job) -> None:
    try:
        jobs.handlers()[job.kind](job.subject)
    except Exception as error:
        # Whatever a handler raises must not take the worker with it; the row keeps what happened, without values.
        log.exception("job %s of kind %s failed in attempt %d", job.pk, job.kind, job.attempts)
        _note_failure(job, error)
    else:
        _settle(job.pk, Job.State.DONE)


def _start(job_id: UUID) -> bool:
    """Count an attempt. A job found running has no living runner, for we hold its lock.

    One of a kind that only a later release knows is left as it is, for a worker of that release.
    """
    open_job = Job.objects.filter(pk=job_id, state__in=[Job.State.DUE, Job.State.RUNNING], kind__in=jobs.handlers())
    if open_job.filter(attempts__gte=jobs.MOST_ATTEMPTS).update(state=Job.State.FAILED, changed_on=clock.today()):
        log.error("job %s never came to an end in %d attempts", job_id, jobs.MOST_ATTEMPTS)
        return False
    return bool(open_job.update(state=Job.State.RUNNING, attempts=F("attempts") + 1))


def _note_failure(job: Job, error: Exception) -> None:
    state = Job.State.FAILED if job.attempts >= jobs.MOST_ATTEMPTS else Job.State.DUE
    _settle(job.pk, state, fault=type(error).__name__)


def _settle(job_id: UUID, state: str, *, fault: str = "") -> None:
    Job.objects.filter(pk=job_id).update(state=state, fault=fault[:80], changed_on=clock.today())


def resend_due_jobs() -> int:
    """Send the ids of jobs that are to be done and that nobody does; say how many were sent.

    Ids that still wait in the queue may be sent twice, and what runs second finds nothing to do.
    """
    try:
        room = FULL_QUEUE - _n_waiting()
    except BROKER_FAULTS as fault:
        log.warning("the broker is away (%s)", type(fault).__name__)
        return 0
    if room <= 0:
        return 0
    open_jobs = Job.objects.filter(state__in=[Job.State.DUE, Job.State.RUNNING]).order_by("changed_on", "id")
    return sum(_send(job_id) for job_id in open_jobs.values_list("pk", flat=True)[:room] if _nobody_runs(job_id))


def _nobody_runs(job_id: UUID) -> bool:
    with locks.held(f"job {job_id}") as mine:
        return mine


def _n_waiting() -> int:
    with app.connection_for_write() as broker, broker.channel() as channel:
        return int(channel.queue_declare(queue=app.conf.task_default_queue, durable=True).message_count)


def sweep() -> None:
    """Everything that is due again and again. What one part breaks does not keep the others from their work."""
    today = clock.today()
    for name, sweeper in jobs.sweepers().items():
        try:
            sweeper(today)
        except Exception:
            log.exception("the sweep could not finish: %s", name)


def drop_settled_jobs(today: date) -> int:
    """Forget jobs that were done on an earlier day; failed ones stay for the operator."""
    return Job.objects.filter(state=Job.State.DONE, changed_on__lt=today).delete()[0]


@transaction.atomic
def drop_old_answers(today: date) -> int:
    """Forget answers kept for repeated requests, 24 to 48 hours after they were given."""
    n_dropped, _ = IdempotencyKey.objects.filter(answered_on__lt=today - timedelta(days=DAYS_ANSWERS_KEPT)).delete()
    if n_dropped:
        journal.leave_no_trace()
    return n_dropped
