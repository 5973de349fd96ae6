from uuid import uuid4

import pytest

from server.core import jobs, tasks
from server.core.models import Job
from server.core.services import enqueue


@pytest.mark.django_db
def test_the_task_does_the_job_that_its_id_names(monkeypatch):
    done = []
    monkeypatch.setattr(jobs, "_handlers", {"test.note": done.append})
    job = enqueue("test.note", subject=uuid4())
    tasks.run_job(str(job.pk))
    assert done == [job.subject]
    assert Job.objects.get(pk=job.pk).state == Job.State.DONE


@pytest.mark.django_db
def test_an_id_without_a_row_is_passed_over():
    tasks.run_job(str(uuid4()))
