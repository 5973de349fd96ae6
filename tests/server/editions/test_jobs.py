from server.core.models import Job
from server.editions.jobs import JobKind
from server.editions.services import start_draft


def test_kinds_carry_the_name_of_the_app_and_fit_their_column():
    longest = Job._meta.get_field("kind").max_length
    assert all(kind.startswith("editions.") and len(kind) <= longest for kind in JobKind)


def test_a_draft_asks_for_one_job_a_part_then_for_one_to_assemble(sealed):
    draft = start_draft(sealed.group, by=sealed.moderator.account)
    asked = Job.objects.filter(kind=JobKind.FIT_PART)
    assert set(asked.values_list("subject", flat=True)) == set(draft.parts.values_list("pk", flat=True))
    assert not Job.objects.filter(kind=JobKind.ASSEMBLE_DRAFT).exists()
    sealed.run_due_jobs()
    assert Job.objects.get(kind=JobKind.ASSEMBLE_DRAFT).subject == draft.pk


def test_a_draft_without_parts_is_assembled_at_once(sealed):
    draft = start_draft(sealed.found("lone", feeds_everyone=False), by=sealed.moderator.account)
    assert list(Job.objects.values_list("kind", "subject")) == [(JobKind.ASSEMBLE_DRAFT, draft.pk)]
