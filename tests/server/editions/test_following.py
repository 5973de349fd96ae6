"""What a request asked for can be found again in the lines of whichever worker does it."""

import json

import pytest

from server.core import jobs
from server.core.middleware import REQUEST_ID
from server.core.models import Job
from server.core.services import run_job


@pytest.mark.django_db
def test_the_id_follows_from_the_answer_into_the_job_and_its_lines(pool, sealed, lines, monkeypatch):
    answer = pool.moderator.api.post("/api/v1/groups/harbour/drafts/")
    job = Job.objects.filter(state=Job.State.DUE).first()
    assert {one.request_id for one in Job.objects.all()} == {answer[REQUEST_ID]}

    def break_down(_subject):
        raise ValueError("reference 112 mg/dL of quiet-otter-12345")

    monkeypatch.setitem(jobs._handlers, job.kind, break_down)
    run_job(job.pk)
    job.refresh_from_db()
    assert (job.attempts, job.fault) == (1, "ValueError")
    (line,) = [line for line in lines if line["logger"] == "server.core.services"]
    assert (line["request"], line["job"], line["fault"]) == (answer[REQUEST_ID], str(job.pk), "builtins.ValueError")
    assert "otter" not in json.dumps(lines)
