"""The erasure journal on its own: lines without values, their order, torn lines, and a database that is behind."""

from uuid import uuid4

import pytest
from django.db import connection, transaction

from server.core import journal, keys
from server.core.deletion import make_physical
from server.core.models import Erasure

KIND = "tried"


@pytest.fixture
def file(settings, tmp_path):
    settings.ERASURE_JOURNAL = tmp_path / "apart" / "erasures.journal"
    return settings.ERASURE_JOURNAL


@pytest.fixture
def seen(monkeypatch):
    """What a replayer was called with."""
    calls = []

    def replayer(marks):
        calls.append(marks)
        return len(marks)

    monkeypatch.setattr(journal, "_replayers", {KIND: replayer})
    return calls


@pytest.mark.django_db(transaction=True)
def test_what_is_noted_stands_in_the_file_once_it_is_committed(file):
    subject = uuid4()
    with transaction.atomic():
        journal.note(KIND, subject.bytes)
        assert not file.exists()
    *said, one_of_its_own = file.read_text().splitlines()[0].split(" ")
    assert said == ["note", KIND, "1", keys.mac(KIND, subject.bytes).hex()]
    assert len(one_of_its_own) == 16
    assert file.stat().st_mode & 0o777 == 0o600
    assert subject.hex not in file.read_text()


@pytest.mark.django_db(transaction=True)
def test_what_is_taken_back_with_its_transaction_is_never_written(file):
    with transaction.atomic():
        journal.note(KIND, b"subject")
        transaction.set_rollback(True)
    assert journal.write_out() == 0
    assert not file.exists()


@pytest.mark.django_db(transaction=True)
def test_a_file_that_cannot_be_written_fails_nobody_and_the_sweep_writes_it(file):
    file.parent.write_text("a file stands where the folder should be")
    with transaction.atomic():
        journal.note(KIND, b"subject")
    assert Erasure.objects.filter(written=False).count() == 1
    file.parent.unlink()
    assert journal.write_out() == 1
    assert len(file.read_text().splitlines()) == 1


@pytest.mark.django_db(transaction=True)
def test_a_large_cut_off_is_marked_as_written_in_statements_that_every_database_takes(file):
    """A statement refused once the file is written would have the lines written again and again."""
    n_values = []

    def count(execute, sql, values, many, context):
        n_values.append(len(values or ()))
        return execute(sql, values, many, context)

    with connection.execute_wrapper(count), transaction.atomic():
        journal.note_marks(KIND, [number.to_bytes(16) for number in range(2_000)])
    assert max(n_values) < 2_000
    assert file.read_text().count("\n") == 20
    assert len(journal.marks_in(file.read_bytes())[KIND]) == 2_000
    assert not Erasure.objects.filter(written=False).exists()


@pytest.mark.django_db(transaction=True)
def test_many_lines_are_written_few_at_a_time_and_after_each_time_the_database_knows_the_last(file, monkeypatch):
    monkeypatch.setattr(journal, "ROWS_AT_ONCE", 3)
    marked, ahead = journal._mark_written, []

    def mark(rows):
        ahead.append(journal.is_ahead())
        marked(rows)
        ahead.append(journal.is_ahead())

    monkeypatch.setattr(journal, "_mark_written", mark)
    with transaction.atomic():
        journal.note_ordered(KIND, (number.to_bytes(16) for number in range(700)))
    lines = file.read_text().splitlines()
    assert len(lines) == 7 == Erasure.objects.filter(written=True).count()
    assert [row.line for row in Erasure.objects.order_by("number")] == lines
    assert ahead == [False] * 6
    assert len(journal.marks_in(file.read_bytes())[KIND]) == 700


@pytest.mark.django_db(transaction=True)
def test_the_last_word_counts(file):
    for _ in range(2):
        with transaction.atomic():
            journal.note(KIND, b"left and came back")
            journal.note(KIND, b"left")
        with transaction.atomic():
            journal.undo(KIND, b"left and came back")
    assert journal.marks_in(file.read_bytes()) == {KIND: {journal.mark_of(KIND, b"left")}}


@pytest.mark.django_db(transaction=True)
def test_what_begins_costs_the_same_however_long_the_journal_is_and_asks_for_nothing_on_the_disks(file, monkeypatch):
    monkeypatch.setattr(journal, "_content", None)
    with transaction.atomic():
        journal.undo(KIND, b"never left")
    assert list(Erasure.objects.values_list("written", "settled")) == [(True, True)]
    monkeypatch.undo()
    with transaction.atomic():
        journal.note(KIND, b"left just now")
        journal.undo(KIND, b"left just now")
    assert journal.marks_in(file.read_bytes()) == {KIND: frozenset()}


@pytest.mark.django_db(transaction=True)
def test_a_torn_line_spoils_none_after_it(file):
    file.parent.mkdir()
    file.write_bytes(f"note {KIND} 1 00ff".encode())
    with transaction.atomic():
        journal.note(KIND, b"after the power cut")
    assert journal.marks_in(file.read_bytes()) == {KIND: {journal.mark_of(KIND, b"after the power cut")}}


def test_marks_made_with_an_older_key_are_known_under_the_newest(settings):
    line = f"note {KIND} 1 {journal.mark_of(KIND, b'subject').hex()}\n".encode()
    settings.KEYS = settings.KEYS.__class__(settings.KEYS.secret_key, (*settings.KEYS.mac_keys, "6a" * 32))
    assert journal.marks_in(line) == {KIND: {journal.mark_of(KIND, b"subject")}}


@pytest.mark.django_db(transaction=True)
def test_a_database_older_than_the_journal_is_known_as_such_until_it_has_followed(file, seen):
    assert not journal.is_ahead()
    with transaction.atomic():
        journal.note(KIND, b"first")
    copy = list(Erasure.objects.values())
    with transaction.atomic():
        journal.note(KIND, b"second")
    assert not journal.is_ahead()
    assert journal.replay_if_ahead() == {}

    Erasure.objects.all().delete()
    Erasure.objects.bulk_create([Erasure(**row) for row in copy])
    assert journal.is_ahead()
    assert journal.replay_if_ahead() == {KIND: 2}
    assert seen == [{journal.mark_of(KIND, subject) for subject in (b"first", b"second")}]
    assert not journal.is_ahead()


@pytest.mark.django_db(transaction=True)
def test_a_replay_that_breaks_leaves_the_database_behind(file, monkeypatch):
    with transaction.atomic():
        journal.note(KIND, b"subject")
    Erasure.objects.all().delete()

    def broken(_marks):
        raise ZeroDivisionError

    monkeypatch.setattr(journal, "_replayers", {KIND: broken})
    with pytest.raises(ZeroDivisionError):
        journal.replay_if_ahead()
    assert journal.is_ahead()


@pytest.mark.django_db(transaction=True)
def test_a_copy_is_known_as_older_though_its_last_line_was_said_again_since(file, seen):
    with transaction.atomic():
        journal.undo(KIND, b"came")
    copy = list(Erasure.objects.values())
    with transaction.atomic():
        journal.note(KIND, b"erased since")
        journal.note(KIND, b"came")
        journal.undo(KIND, b"came")
    Erasure.objects.all().delete()
    Erasure.objects.bulk_create([Erasure(**row) for row in copy])
    assert journal.is_ahead()
    assert journal.replay_if_ahead() == {KIND: 1}
    assert seen == [{journal.mark_of(KIND, b"erased since")}]


@pytest.mark.django_db(transaction=True)
def test_a_crash_between_file_and_row_is_no_older_copy(file):
    with transaction.atomic():
        journal.note(KIND, b"subject")
    Erasure.objects.update(written=False)
    assert not journal.is_ahead()


@pytest.mark.django_db(transaction=True)
def test_whoever_began_first_and_committed_last_makes_the_database_no_older_copy(file):
    """Two took wears back at a time: everybody was signed out, as after a restore."""
    early = Erasure.objects.create(line="")
    journal.note(KIND, b"began later, committed first")
    Erasure.objects.filter(pk=early.pk).delete()
    early.line = journal._line(journal.NOTE, KIND, journal.mark_of(KIND, b"began first, committed later"))
    early.save(force_insert=True)
    assert journal.write_out() == 1
    assert file.read_text().splitlines()[-1] == early.line
    assert not journal.is_ahead()
    assert make_physical()
    assert [row.line for row in Erasure.objects.all()] == [early.line]
    assert not journal.is_ahead()


@pytest.mark.django_db(transaction=True)
def test_who_reads_the_file_while_somebody_writes_on_takes_the_database_for_no_older_copy(file, monkeypatch):
    """Taken for one, it would sign everybody out."""
    journal.note(KIND, b"first")
    before, read = journal._end(), journal._end
    journal.note(KIND, b"second")
    answers = iter([before])
    monkeypatch.setattr(journal, "_end", lambda: next(answers, None) or read())
    assert not journal.is_ahead()


@pytest.mark.django_db(transaction=True)
def test_of_a_long_journal_only_the_end_is_read_to_know_whether_it_is_ahead(file, monkeypatch):
    journal.note_marks(KIND, [number.to_bytes(16) for number in range(2_000)])
    assert max(map(len, file.read_text().splitlines())) < journal.LONGEST_LINE < file.stat().st_size / 10
    monkeypatch.setattr(journal, "_content", None)
    assert not journal.is_ahead()
    with file.open("a") as stream:
        stream.write(f"note {KIND} 1 {'00' * 16}\n")
    assert journal.is_ahead()


def test_two_replayers_of_one_kind_are_refused(monkeypatch):
    monkeypatch.setattr(journal, "_replayers", {})
    journal.register(KIND, len)
    with pytest.raises(RuntimeError, match="two replayers of tried"):
        journal.register(KIND, max)
