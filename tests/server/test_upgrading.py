"""A small server's data go back to the schema of before and forth again, and old code works beside the new schema."""

import hashlib
from uuid import uuid4

import pytest
from django.apps import apps
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from server.core.models import Job
from server.core.services import enqueue, run_job
from server.editions.models import Edition
from tests.conftest import START

BEFORE = [("core", "0006_long_lines")]


def migrate(targets):
    executor = MigrationExecutor(connection)
    executor.migrate(targets)
    return executor.loader.project_state(targets).apps


@pytest.fixture
def newest():
    """The schema as it is; whatever a test leaves is brought back to it."""
    leaves = MigrationExecutor(connection).loader.graph.leaf_nodes()
    yield leaves
    migrate(leaves)


def held():
    """Every row of every table of ours by its id, and the bytes of editions."""
    ids = {
        model._meta.label: sorted(map(str, model._base_manager.values_list("pk", flat=True)))
        for config in apps.get_app_configs()
        if config.name.startswith("server.")
        for model in config.get_models()
        if model is not Job
    }
    return ids, [hashlib.sha256(bytes(one.document)).hexdigest() for one in Edition.objects.order_by("pk")]


@pytest.mark.django_db(transaction=True)
def test_data_go_back_and_forth(newest, edition, contributor, give):
    give(contributor)
    job = enqueue("a kind", subject=uuid4())
    before = held()
    assert before[0]["wears.Wear"]
    assert before[1] == [edition.sha256]
    old = migrate(BEFORE).get_model("core", "Job")
    assert held() == before
    assert old.objects.get().pk == job.pk
    migrate(newest)
    assert held() == before
    assert Job.objects.get().request_id == ""


@pytest.mark.django_db(transaction=True)
def test_old_code_writes_and_reads_beside_the_new_schema(newest, monkeypatch):
    old = MigrationExecutor(connection).loader.project_state(BEFORE).apps.get_model("core", "Job")
    written = old.objects.create(kind="a kind", subject=uuid4(), changed_on=START)
    new = enqueue("a kind", subject=uuid4())
    assert Job.objects.get(pk=written.pk).request_id == ""
    assert {one.pk for one in old.objects.filter(state="due")} == {written.pk, new.pk}
    done = []
    monkeypatch.setattr("server.core.jobs._handlers", {"a kind": done.append})
    run_job(written.pk)
    assert done == [written.subject]


@pytest.mark.django_db(transaction=True)
def test_a_worker_older_than_web_leaves_a_kind_that_it_does_not_know(monkeypatch):
    job = enqueue("a kind of the next release", subject=uuid4())
    for _ in range(7):
        run_job(job.pk)
    job.refresh_from_db()
    assert (job.state, job.attempts) == ("due", 0)
    done = []
    monkeypatch.setattr("server.core.jobs._handlers", {"a kind of the next release": done.append})
    run_job(job.pk)
    assert done == [job.subject]
