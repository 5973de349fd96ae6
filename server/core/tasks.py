"""The one task of the queue, and what the sweep does for core."""

from datetime import date
from uuid import UUID

from celery import shared_task

from server.core import jobs, services


@shared_task(name=services.RUN_JOB)
def run_job(job_id: str) -> None:
    services.run_job(UUID(job_id))


def send_due_jobs(_today: date) -> None:
    services.resend_due_jobs()


def cut_the_log(_today: date) -> None:
    services.make_deletions_physical()


jobs.register_sweep("due jobs sent again", send_due_jobs)
jobs.register_sweep("settled jobs dropped", services.drop_settled_jobs)
jobs.register_sweep("old answers dropped", services.drop_old_answers)
jobs.register_sweep("deletions made physical", cut_the_log)
