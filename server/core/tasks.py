"""The one task of the queue, and what the sweep does for core."""

from datetime import date
from uuid import UUID

from celery import shared_task

from server.core import deletion, doctor, idempotency, jobs, journal, metrics, rotation, services
from server.core.models import IdempotencyKey


@shared_task(name=services.RUN_JOB)
def run_job(job_id: str) -> None:
    services.run_job(UUID(job_id))


def send_due_jobs(_today: date) -> None:
    services.resend_due_jobs()


def follow_the_journal(_today: date) -> None:
    """First of all: nothing may be done with what a restored copy has brought back."""
    journal.replay_if_ahead()
    journal.write_out()


def make_deletions_physical(_today: date) -> None:
    deletion.make_physical()


jobs.register_sweep("erasures noted and replayed", follow_the_journal)
jobs.register_sweep("due jobs sent again", send_due_jobs)
jobs.register_sweep("settled jobs dropped", services.drop_settled_jobs)
jobs.register_sweep("old answers dropped", services.drop_old_answers)
jobs.register_sweep("deletions made physical", make_deletions_physical)
rotation.register_marks(
    IdempotencyKey, mark=idempotency.BY_KEY, account_mark=idempotency.BY_ACCOUNT, body_digest=idempotency.BY_BODY
)
metrics.register("jobs and erasures", metrics.jobs_and_erasures)
metrics.register("size of the database", metrics.size_of_database)
doctor.register("jobs", doctor.jobs)
doctor.register("erasures", doctor.erasures)
doctor.register("erased rows that are held", deletion.what_holds_erased_rows)
doctor.register("chain of keys", doctor.chain_of_keys)
doctor.register("accounts of the database", doctor.accounts_of_the_database)
