import subprocess
import sys

import pytest
from django.db import DatabaseError
from django.db.migrations.recorder import MigrationRecorder

from server.core import health
from server.core.management.commands.health import ASKED
from tests.house.tree import ROOT


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


@pytest.mark.parametrize("part", ASKED)
def test_what_containers_ask_every_minute_loads_no_app_and_ends_with_1_in_words(part, monkeypatch, tmp_path):
    """With all apps it took 2.7 s of computing: on a busy machine three such questions at once had no answer."""
    monkeypatch.setenv("COMMONWEAR_DATA_DIR", str(tmp_path))
    monkeypatch.delenv("REDIS_URL", raising=False)
    words = [sys.executable, "-X", "importtime", "-m", "server", "health", part, "--port", "1"]
    asked = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=False)
    assert asked.returncode == 1
    assert "does not answer" in asked.stderr
    assert "Traceback" not in asked.stderr
    loaded = {line.rpartition("|")[2].strip() for line in asked.stderr.splitlines() if line.startswith("import time:")}
    assert "server.env" in loaded
    assert not {name for name in loaded if name.partition(".")[0] in {"numpy", "scipy"}}
    assert not {name for name in loaded if name.startswith("server.") and name.endswith(".models")}
