"""Deletion on disks, on a file of SQLite's own and on the database that the suite runs on."""

import random
import sqlite3
from contextlib import contextmanager, nullcontext
from datetime import date
from io import StringIO
from pathlib import Path
from uuid import uuid4

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction

from server.core import deletion, journal
from server.core.management.commands import sweep
from server.core.models import Erasure, Notice


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


# Segments of the log are used again with their old bytes: each run has a word of its own, and each place.
CANARY = f"a word that stands in no other row of this database {uuid4().hex}"
IN_A_TABLE = f"another one {uuid4().hex}"


def found_in_the_log():
    """The files of the log that hold the canary; of PostgreSQL's, as far as this role may read them."""
    if connection.vendor == "sqlite":
        name = connection.settings_dict["NAME"]
        log = Path(f"{name}-wal")
        return {log.name} if log.exists() and CANARY.encode() in log.read_bytes() else set()
    with connection.cursor() as cursor:
        cursor.execute(
            # A segment that somebody's checkpoint takes away meanwhile is no fault, and holds nothing.
            "SELECT name FROM pg_ls_waldir() "
            "WHERE position(%s::bytea IN pg_read_binary_file('pg_wal/' || name, 0, 67108864, true)) > 0",
            [CANARY.encode()],
        )
        return {name for (name,) in cursor.fetchall()}


def segment_written_to():
    if connection.vendor == "sqlite":
        return None
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_walfile_name(pg_current_wal_insert_lsn())")
        return cursor.fetchone()[0]


@pytest.mark.django_db(transaction=True)
def test_what_the_log_may_still_hold_is_said_in_words(file):
    """On PostgreSQL bytes of an erased row are really there, and the words say so; on SQLite the log is cut."""
    notice = Notice.objects.create(text=CANARY, posted_on=date(2031, 2, 10))
    notice.delete()
    assert deletion.make_physical(thorough=True)
    before, written_to = found_in_the_log(), segment_written_to()
    said, found = deletion.leave_the_log_behind(), found_in_the_log()
    if connection.vendor == "sqlite":
        assert (said, found) == ("the log of the database is cut", set())
        return
    n_segments = int(said.split(" segments of the write-ahead log may hold it", maxsplit=1)[0])
    assert before, "what the words warn of is there"
    # A checkpoint removes segments that the server will hardly need again, and keeps the others with their bytes.
    assert len(found) <= n_segments
    assert segment_written_to() != written_to  # the log goes on elsewhere


def stands_in_the_table():
    with connection.cursor() as cursor:
        cursor.execute("CHECKPOINT")
        cursor.execute(
            "SELECT position(%s::bytea IN pg_read_binary_file(pg_relation_filepath('core_notice'))) > 0",
            [IN_A_TABLE.encode()],
        )
        return cursor.fetchone()[0]


@contextmanager
def a_transaction_that_began_before(**elsewhere):
    """On PostgreSQL a transaction of somebody else's, in this database or in another one of the server."""
    import psycopg

    with psycopg.connect(**{**connection.get_connection_params(), **elsewhere}) as other:
        other.execute("SELECT pg_current_xact_id()")
        yield


def erase_some_of_many():
    """Half of a page is left empty: what stays is moved together, and a part of what went stays beneath it."""
    words = [(IN_A_TABLE, "a notice that stays as it is, of some length")[number % 2] for number in range(40)]
    notices = Notice.objects.bulk_create(Notice(text=text, posted_on=date(2031, 2, 10)) for text in words)
    Notice.objects.filter(pk__in=[notice.pk for notice in notices if notice.text == IN_A_TABLE]).delete()


@pytest.mark.django_db(transaction=True)
def test_what_an_older_transaction_may_still_see_is_not_said_to_be_gone(file, monkeypatch):
    if connection.vendor == "sqlite":  # the file is written anew by itself alone, or not at all
        assert list(deletion.what_holds_erased_rows()) == []
        return
    with a_transaction_that_began_before():
        erase_some_of_many()
        assert not deletion.make_physical(thorough=True)
        assert stands_in_the_table()
        assert list(deletion.what_holds_erased_rows()) == []
        monkeypatch.setattr(deletion, "LONG_OPEN_S", 0)
        (complaint,) = deletion.what_holds_erased_rows()
        assert complaint.startswith("1 transactions")
    assert deletion.make_physical(thorough=True)
    assert not stands_in_the_table()
    assert list(deletion.what_holds_erased_rows()) == []


@pytest.mark.django_db(transaction=True)
def test_a_transaction_in_another_database_of_the_server_keeps_nothing(file):
    if connection.vendor == "sqlite":
        assert deletion.make_physical(thorough=True)
        return
    with a_transaction_that_began_before(dbname="postgres"):
        erase_some_of_many()
        assert deletion.make_physical(thorough=True)
        assert not stands_in_the_table()


@pytest.mark.parametrize("n_in_the_way", [0, 2, sweep.TRIES])
def test_a_sweep_by_hand_tries_again_and_fails_where_that_does_not_help(monkeypatch, n_in_the_way):
    answers = [False] * n_in_the_way + [True]
    monkeypatch.setattr(sweep, "PAUSE_S", 0)
    monkeypatch.setattr(sweep.services, "sweep", lambda: None)
    monkeypatch.setattr(sweep.grants, "owns_the_tables", lambda: True)
    monkeypatch.setattr(deletion, "make_physical", lambda *, thorough: answers.pop(0))
    monkeypatch.setattr(deletion, "leave_the_log_behind", lambda: "")
    out = StringIO()
    with nullcontext() if n_in_the_way < sweep.TRIES else pytest.raises(CommandError, match="run it again later"):
        call_command("sweep", stdout=out)
    assert ("out of the tables" in out.getvalue()) == (n_in_the_way < sweep.TRIES)


@pytest.mark.django_db(transaction=True)
def test_a_role_that_may_not_touch_the_log_says_what_is_left_to_do(monkeypatch):
    class NotOurs:
        vendor = "postgresql"

        def cursor(self):
            raise DatabaseError("permission denied for function pg_switch_wal")

    monkeypatch.setattr(deletion, "connection", NotOurs())
    assert deletion.leave_the_log_behind() == deletion.LOG_NOT_OURS


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
