import pytest
from django.db import DatabaseError
from django.db.migrations.recorder import MigrationRecorder

from server.core import health


def test_live_asks_nothing_of_the_database(client):
    assert client.get("/health/live").json() == {"status": "live"}


@pytest.mark.django_db
def test_ready_once_every_migration_is_applied(client):
    assert client.get("/health/ready").status_code == 200
    MigrationRecorder.Migration.objects.filter(app="core").delete()
    answer = client.get("/health/ready")
    assert (answer.status_code, answer.json()) == (503, {"status": "not migrated"})


def test_not_ready_without_a_database(client, monkeypatch):
    def fail(_connection):
        raise DatabaseError

    monkeypatch.setattr(health, "MigrationExecutor", fail)
    answer = client.get("/health/ready")
    assert (answer.status_code, answer.json()) == (503, {"status": "no database"})
