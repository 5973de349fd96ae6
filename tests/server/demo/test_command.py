import fcntl
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from server.demo.management.commands import demo

ROOT = Path(__file__).resolve().parents[3]


@pytest.mark.parametrize("around", [{}, {"COMMONWEAR_DEMO": "yes"}])
def test_a_second_demo_in_one_folder_is_refused_before_it_touches_anything(tmp_path, around):
    (tmp_path / "demo").mkdir()
    (tmp_path / "demo" / "date").write_text("of the first")
    environment = {name: value for name, value in os.environ.items() if not name.startswith("COMMONWEAR_")}
    environment |= {"PYTHONPATH": str(ROOT), "COMMONWEAR_DATA_DIR": str(tmp_path)} | around
    with (tmp_path / "demo.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        command = [sys.executable, "-m", "server", "demo", "--check", "--port", "0"]
        second = subprocess.run(command, cwd=tmp_path, env=environment, capture_output=True, text=True, check=False)
    assert second.returncode == 1
    assert "running in this folder already" in second.stderr
    assert (tmp_path / "demo" / "date").read_text() == "of the first"


@pytest.fixture
def begun(tmp_path, monkeypatch):
    """What the process is started with that a demo becomes, on a machine where a real service is set up."""
    for name in ("KEYS_FILE", "ERASURE_JOURNAL", "SIGNING_KEY_FILE", "HOSTS", "SERVICE_ROLE"):
        monkeypatch.setenv(f"COMMONWEAR_{name}", "of the real service")
    for name in ("DATABASE_URL_FILE", "REDIS_URL"):
        monkeypatch.setenv(name, "of the real service")
    seen = []
    monkeypatch.setattr(demo.os, "execve", lambda *told: seen.append(told))
    demo._start_afresh(tmp_path / "demo")
    ((_, _, environment),) = seen
    return environment


def test_nothing_of_a_real_service_is_taken_over(begun, tmp_path):
    assert "of the real service" not in json.dumps(begun)
    assert begun["COMMONWEAR_DATA_DIR"] == str(tmp_path / "demo")
    assert begun["PATH"] == os.environ["PATH"]


def test_it_begins_in_an_empty_folder_in_the_data_folder(begun, tmp_path):
    assert sorted(path.name for path in (tmp_path / "demo").iterdir()) == ["date", "slot-key"]
