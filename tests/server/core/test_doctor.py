from datetime import timedelta
from uuid import uuid4

import pytest

from server.core import beat, clock, doctor
from server.core.models import Job


def test_a_job_that_waits_since_yesterday_and_one_that_failed_are_told(db):
    assert list(doctor.jobs()) == []
    Job.objects.create(kind="odd", subject=uuid4(), changed_on=clock.today() - timedelta(days=1))
    Job.objects.create(kind="odd", subject=uuid4(), changed_on=clock.today(), state="failed")
    waiting, failed = doctor.jobs()
    assert waiting.startswith("1 jobs wait since an earlier day")
    assert failed.startswith("1 jobs failed")


def test_keys_that_others_can_read_are_told(settings, tmp_path):
    settings.KEYS_FILE = tmp_path / "keys.json"
    settings.KEYS_FILE.touch(mode=0o600)
    assert list(doctor.files()) == []
    settings.KEYS_FILE.chmod(0o644)
    assert "chmod 600" in next(doctor.files())


def test_a_database_that_others_can_read_is_told(monkeypatch, tmp_path):
    file = tmp_path / "commonwear.sqlite3"
    file.touch(mode=0o600)
    monkeypatch.setattr(doctor.connection, "vendor", "sqlite")
    monkeypatch.setitem(doctor.connection.settings_dict, "NAME", str(file))
    assert not any(str(file) in line for line in doctor.files())
    file.chmod(0o644)
    assert f"{file} can be used by others (mode 644). Run: chmod 600 {file}" in list(doctor.files())


def test_a_full_disk_is_told(monkeypatch):
    assert list(doctor.room()) == []
    monkeypatch.setattr(doctor, "LEAST_ROOM_BYTES", 2**80)
    assert "Make room" in next(doctor.room())


def test_a_data_folder_that_holds_locks_alone_may_be_small(monkeypatch, settings, tmp_path):
    settings.DATA_DIR, settings.ERASURE_JOURNAL = tmp_path / "locks", tmp_path / "journal" / "erasures.journal"
    settings.DATA_DIR.mkdir()
    monkeypatch.setattr(doctor, "LEAST_ROOM_BYTES", 2**80)
    monkeypatch.setattr(doctor.connection, "vendor", "postgresql")
    settings.EMBEDDED_BROKER = False
    assert list(doctor.room()) == []
    settings.EMBEDDED_BROKER = True
    assert len(list(doctor.room())) == 1


def test_a_broker_that_is_away_and_a_sweep_that_is_not_heard_are_told(monkeypatch):
    def unknown():
        raise beat.Unknown

    monkeypatch.setattr(beat, "is_heard", unknown)
    assert [line.split(".")[0] for line in doctor.broker()] == [
        "The broker does not answer; work waits and none is lost"
    ]
    monkeypatch.setattr(beat, "is_heard", lambda: False)
    monkeypatch.setattr(doctor.app.control, "ping", lambda timeout: [])
    assert [line.split(".")[0] for line in doctor.broker()] == [
        "No sweep has been heard of lately",
        "No worker answers",
    ]


def test_a_sound_database_has_nothing_to_complain_of_and_every_app_is_asked(db):
    assert list(doctor.database()) == []
    told = {name: list(examination()) for name, examination in doctor.examinations().items()}
    assert set(told) >= {"chains of consents", "records of decisions", "cut-offs and editions", "chain of keys"}
    assert not any(complaints for name, complaints in told.items() if name != "cut-offs and editions")


def test_two_examinations_of_one_name_are_refused():
    with pytest.raises(RuntimeError, match="two examinations"):
        doctor.register("jobs", list)
