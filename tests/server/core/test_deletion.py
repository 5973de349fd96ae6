"""Deletion on disks, on a file of SQLite's own and on the database that the suite runs on."""

import random
import sqlite3

import pytest
from django.db import connection, transaction

from server.core import deletion, journal
from server.core.models import Erasure


@pytest.fixture
def file(settings, tmp_path):
    settings.ERASURE_JOURNAL = tmp_path / "erasures.journal"
    return settings.ERASURE_JOURNAL


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("thorough", [False, True], ids=["in passing", "thorough"])
def test_what_asked_for_it_is_settled_and_only_the_newest_line_stays(file, thorough):
    for subject in (b"first", b"second"):
        with transaction.atomic():
            journal.note("tried", subject)
            journal.leave_no_trace()
    assert Erasure.objects.count() == 4
    assert deletion.make_physical(thorough=thorough)
    assert [(row.line, row.settled) for row in Erasure.objects.all()] == [(file.read_text().splitlines()[-1], True)]
    assert not journal.is_ahead()


@pytest.mark.django_db(transaction=True)
def test_what_is_not_in_the_journal_yet_stays(file):
    Erasure.objects.create(line="note tried 1 00")
    assert deletion.make_physical()
    assert Erasure.objects.filter(written=False).count() == 1


@pytest.mark.django_db
def test_inside_a_transaction_it_is_left_for_later():
    assert connection.in_atomic_block
    assert deletion.make_physical() is False


@pytest.mark.django_db(transaction=True)
def test_a_database_that_refuses_is_tried_again_later(file, monkeypatch):
    journal.leave_no_trace()
    monkeypatch.setattr(deletion, "our_tables", lambda: ["no_such_table"])
    monkeypatch.setattr(deletion, "_in_sqlite", deletion._in_postgresql)
    assert deletion.make_physical() is False
    assert Erasure.objects.count() == 1


def test_the_tables_that_hold_people_are_among_ours():
    assert {"wears_wear", "wears_wearpairs", "wears_wearsummary", "accounts_holding"} <= set(deletion.our_tables())


def residue(place, *, vacuum, seeds=range(12)):
    """How many of some thousand deleted rows still have bytes in the file."""
    n_left = 0
    for seed in seeds:
        rng, file = random.Random(seed), place / f"{vacuum}-{seed}.sqlite3"
        own = sqlite3.connect(file, isolation_level=None)
        own.execute("PRAGMA secure_delete = ON")
        own.execute("CREATE TABLE held(id TEXT PRIMARY KEY, header TEXT, block BLOB)")
        own.execute("CREATE INDEX by_header ON held(header)")
        own.execute("BEGIN")
        names = [f"CANARY{number:04d}" for number in range(300)]
        for name in names:
            filling = "z" * rng.randint(10, 300)
            row = (f"{rng.getrandbits(128):032x}", name + filling, name.encode() * rng.randint(1, 600))
            own.execute("INSERT INTO held VALUES(?, ?, ?)", row)
            if rng.random() < 0.3:
                own.execute("UPDATE held SET header = ? WHERE id = ?", (name + "y" * rng.randint(1, 400), row[0]))
        own.execute("COMMIT")
        gone = [name for name in names if rng.random() < 0.5]
        own.executemany("DELETE FROM held WHERE header LIKE ?", [(f"{name}%",) for name in gone])
        if vacuum:
            own.execute("VACUUM")
        own.close()
        content = file.read_bytes()
        n_left += sum(name.encode() in content for name in gone)
    return n_left


def test_zeroing_alone_leaves_bytes_in_the_file_and_writing_it_anew_none(tmp_path):
    assert residue(tmp_path, vacuum=False) > 0
    assert residue(tmp_path, vacuum=True) == 0
