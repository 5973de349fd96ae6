"""What workers and the sweep do for editions is registered, and each does what its kind says."""

from uuid import uuid4

from server.core import jobs
from server.editions import fitting, services
from server.editions.jobs import JobKind
from server.editions.services import start_draft


def test_workers_know_both_kinds_and_the_sweep_passes_cut_offs():
    assert jobs.handlers()[JobKind.FIT_PART] is fitting.run_part
    assert jobs.handlers()[JobKind.ASSEMBLE_DRAFT] is services.assemble_draft
    assert services.run_due_cut_offs in jobs.sweepers().values()


def test_a_job_whose_draft_is_gone_ends_in_peace(db):
    for kind in JobKind:
        jobs.handlers()[kind](uuid4())


def test_a_job_that_is_run_again_after_all_is_done_changes_nothing(sealed):
    draft = start_draft(sealed.group, by=sealed.moderator.account)
    parts = list(draft.parts.values_list("pk", flat=True))
    sealed.run_due_jobs()
    draft.refresh_from_db()
    before = bytes(draft.document)
    for part in parts:
        jobs.handlers()[JobKind.FIT_PART](part)
    jobs.handlers()[JobKind.ASSEMBLE_DRAFT](draft.pk)
    assert sealed.run_due_jobs() == 0
    draft.refresh_from_db()
    assert bytes(draft.document) == before
