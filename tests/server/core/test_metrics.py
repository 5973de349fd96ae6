"""What a monitoring program is told, read by the reference parser of its format."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import DatabaseError
from prometheus_client.parser import text_string_to_metric_families

from server.core import beat, metrics
from server.core.models import Job
from server.editions.jobs import JobKind
from tests.conftest import START

SLUG, KEY = "quiet-otter-meadow", "words of a member"


def figures(client, **headers):
    answer = client.get("/metrics", headers=headers)
    assert answer.status_code == 200
    return [one for family in text_string_to_metric_families(answer.content.decode()) for one in family.samples]


def value_of(found, name, **labels):
    (value,) = [one.value for one in found if one.name == name and labels.items() <= one.labels.items()]
    return value


@pytest.mark.django_db
def test_requests_are_counted_by_pattern_and_nothing_of_their_address_is_told(client):
    labels = {"method": "GET", "route": "/api/v1/groups/<slug:slug>/", "status": "4xx"}
    seen = [one for one in figures(client) if one.name == "commonwear_requests_total" and one.labels == labels]
    before = sum(one.value for one in seen)
    client.get(f"/api/v1/groups/{SLUG}/?key={KEY}")
    client.get(f"/nowhere/{SLUG}")
    client.generic(SLUG.upper(), "/health/live")
    found = figures(client)
    assert value_of(found, "commonwear_requests_total", **labels) == before + 1
    assert value_of(found, "commonwear_requests_total", method="other", route="/health/live", status="4xx") >= 1
    assert value_of(found, "commonwear_request_seconds_count", route=labels["route"]) >= 1
    told = client.get("/metrics").content.decode()
    assert SLUG not in told.lower()
    assert KEY not in told


@pytest.mark.django_db
def test_jobs_the_calendar_and_the_database_are_told(client, clock, monkeypatch):
    monkeypatch.setattr(beat, "is_heard", lambda: False)  # a sweep of another test may have left its sign
    Job.objects.create(kind=JobKind.FIT_PART, subject=uuid4(), changed_on=START)
    Job.objects.create(kind=JobKind.FIT_PART, subject=uuid4(), state="failed", changed_on=START)
    clock.set(START + timedelta(days=3))
    found = figures(client)
    assert value_of(found, "commonwear_jobs", kind="editions.fit_part", state="due") == 1
    assert value_of(found, "commonwear_jobs", kind="editions.fit_part", state="failed") == 1
    assert value_of(found, "commonwear_jobs", kind="editions.assemble_draft", state="due") == 0
    assert value_of(found, "commonwear_oldest_waiting_job_days") == 3
    assert value_of(found, "commonwear_database_up") == 1
    assert value_of(found, "commonwear_database_bytes") > 100_000
    assert value_of(found, "commonwear_cut_offs_overdue") >= 1
    assert value_of(found, "commonwear_sweep_heard") == 0


@pytest.mark.django_db
def test_nobody_is_counted(client, contributor, upload):
    before = {one.name for one in figures(client)}
    upload(contributor)
    found = figures(client)
    assert {one.name for one in found} == before
    labels = {name for one in found for name in one.labels}
    assert labels <= {"method", "route", "status", "kind", "state", "pid", "le"}


@pytest.mark.django_db
def test_a_database_that_is_away_is_a_figure(client, monkeypatch):
    def fail():
        raise DatabaseError

    monkeypatch.setattr(metrics, "_measures", {"broken": fail})
    assert value_of(figures(client), "commonwear_database_up") == 0


@pytest.mark.django_db
@pytest.mark.parametrize(
    "given",
    [
        {"REMOTE_ADDR": "192.0.2.7"},
        {"REMOTE_ADDR": "no address"},
        {"REMOTE_ADDR": "127.0.0.1", "HTTP_X_FORWARDED_FOR": "192.0.2.7"},
        {"REMOTE_ADDR": "127.0.0.1", "HTTP_X_REAL_IP": "192.0.2.7"},
    ],
)
def test_for_others_there_is_no_such_address(client, given):
    assert client.get("/metrics", **given).status_code == client.get("/nowhere", **given).status_code == 404


@pytest.mark.django_db
def test_with_a_token_only_whoever_brings_it_sees_anything(client, settings):
    settings.METRICS_TOKEN = "a token of the operator"
    assert client.get("/metrics").status_code == 404
    assert client.get("/metrics", headers={"Authorization": "Bearer another"}).status_code == 404
    from_afar = client.get(
        "/metrics", headers={"Authorization": "Bearer a token of the operator"}, REMOTE_ADDR="192.0.2.7"
    )
    assert from_afar.status_code == 200
