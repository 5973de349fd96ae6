"""The erasure journal: a file beside the copies of the database that says, in keyed marks alone, what was erased.

A copy that is put back brings back what was erased after it was made; replaying the journal erases it again. What a
transaction erases it notes in a row of its own, so that both happen or neither; the row is written out to the file once
the transaction is committed, or by the sweep, and stays until the erasure has reached the disks.

A line is `note` or `undo`, a kind, the version of the keys and a mark, or several, and a random word: no value,
no name, no date.
"""

import logging
import os
import secrets
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from types import MappingProxyType

from django.conf import settings
from django.db import DatabaseError, transaction
from django.db.models import Q, Subquery

from server.core import keys, locks
from server.core.chunks import chunks, pieces
from server.core.models import Erasure

NOTE, UNDO = "note", "undo"
MARK_DIGITS = (16, 32)
BATCH = 500
MARKS_A_LINE = 100
ROWS_AT_ONCE = 5_000  # a large cut-off leaves two for each of its wears
LONGEST_LINE = 4096
Replayer = Callable[[frozenset[bytes]], int]
_replayers: dict[str, Replayer] = {}
log = logging.getLogger(__name__)


def register(kind: str, replayer: Replayer) -> None:
    """Have `replayer` called with all marks of a kind after a restore; it returns how many rows it dealt with."""
    if _replayers.setdefault(kind, replayer) is not replayer:
        raise RuntimeError(f"two replayers of {kind}")


def replayers() -> Mapping[str, Replayer]:
    return MappingProxyType(_replayers)


# What services note


def mark_of(kind: str, subject: bytes) -> bytes:
    return keys.mac(kind, subject)


def note(kind: str, subject: bytes) -> None:
    """Note in the present transaction that something was erased, or ended."""
    note_marks(kind, [mark_of(kind, subject)])


def note_marks(kind: str, marks: Iterable[bytes]) -> None:
    """Note many at once, in an order that tells nothing."""
    note_ordered(kind, sorted(set(marks)))


def note_ordered(kind: str, marks: Iterable[bytes]) -> None:
    """The same of marks that come each once and in their own order; however many, they are not held together."""
    _add(_line(NOTE, kind, *some) for some in pieces(marks, of=MARKS_A_LINE))


def undo(kind: str, subject: bytes) -> None:
    """Note that what may have ended begins, or begins again.

    Whether its end was ever noted is not looked up: that would be to read the whole file. Nothing was deleted.
    """
    _add([_line(UNDO, kind, mark_of(kind, subject))], settled=True)


def leave_no_trace() -> None:
    """Ask that what this transaction deleted be gone from the disks too, where no copy would bring it back for good."""
    Erasure.objects.create(line="", written=True)


def _line(word: str, kind: str, *marks: bytes) -> str:
    """With a random word at its end, by which a line is known from another that says the same."""
    return f"{word} {kind} {keys.key_version()} {','.join(mark.hex() for mark in marks)} {secrets.token_hex(8)}"


def _add(lines: Iterable[str], *, settled: bool = False) -> None:
    for some in pieces(lines, of=BATCH):
        Erasure.objects.bulk_create([Erasure(line=line, settled=settled) for line in some])
    transaction.on_commit(_write_out_or_leave_it, robust=True)


def _write_out_or_leave_it() -> None:
    try:
        write_out()
    except (OSError, DatabaseError) as fault:
        log.warning("the erasure journal could not be written (%s); the sweep tries again", type(fault).__name__)


# The file


def write_out() -> int:
    """Carry the rows that are not in the file yet to it; say how many."""
    if not Erasure.objects.filter(written=False).exists():
        return 0
    with locks.held("erasure journal") as mine:
        if not mine:
            return 0
        n_written = 0
        while rows := list(Erasure.objects.filter(written=False).order_by("number")[:ROWS_AT_ONCE]):
            _append(settings.ERASURE_JOURNAL, [row.line for row in rows])
            _mark_written(rows)
            n_written += len(rows)
    return n_written


def _mark_written(rows: Sequence[Erasure]) -> None:
    """Number the rows anew: whose number was given first may have been committed last, and stand last in the file."""
    # One statement cannot name the hundreds of thousands of marks of a large cut-off.
    with transaction.atomic():
        for chunk in chunks(row.pk for row in rows):
            Erasure.objects.filter(pk__in=chunk).delete()
        again = [Erasure(line=row.line, written=True, settled=row.settled) for row in rows]
        Erasure.objects.bulk_create(again, batch_size=BATCH)


def _append(file: Path, lines: Iterable[str]) -> None:
    file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    with os.fdopen(os.open(file, os.O_RDWR | os.O_APPEND | os.O_CREAT, 0o600), "r+b") as stream:
        # A line that a power cut left half written is ended here, and its row is written once more.
        size = stream.seek(0, os.SEEK_END)
        torn = size > 0 and os.pread(stream.fileno(), 1, size - 1) != b"\n"
        stream.write(("\n" * torn + "".join(f"{line}\n" for line in lines)).encode())
        stream.flush()
        os.fsync(stream.fileno())


def _content() -> bytes:
    try:
        return bytes(settings.ERASURE_JOURNAL.read_bytes())
    except FileNotFoundError:
        return b""


def marks_in(content: bytes) -> dict[str, frozenset[bytes]]:
    """What stands noted at the end of a journal, by kind, every mark carried to the newest key.

    A line that cannot be read was torn, and stands once more after it.
    """
    found: dict[str, set[bytes]] = {}
    for word, kind, mark in _entries(content):
        marks = found.setdefault(kind, set())
        marks.add(mark) if word == NOTE else marks.discard(mark)
    return {kind: frozenset(marks) for kind, marks in found.items()}


def _entries(content: bytes) -> Iterator[tuple[str, str, bytes]]:
    for line in content.decode("ascii", "replace").splitlines():
        match line.split(" "):
            case [("note" | "undo") as word, kind, version, marks, *_]:
                for digits in marks.split(","):
                    with suppress(ValueError):
                        if len(digits) in MARK_DIGITS:
                            yield word, kind, _carried(kind, bytes.fromhex(digits), int(version))


def _carried(kind: str, mark: bytes, version: int) -> bytes:
    return keys.carried(kind, mark, made_under=version, n_bytes=len(mark))


# After a restore


def is_ahead() -> bool:
    """Whether the journal knows of more than the database: the database is an older copy."""
    end = _end()
    while not _follows(end):
        # Somebody may have written on since; what stands still and is not known is ahead.
        if end == (end := _end()):
            return True
    return False


def _end() -> tuple[int, str]:
    """How long the journal is, and its last line; of the file no more is read than that needs."""
    try:
        with settings.ERASURE_JOURNAL.open("rb") as stream:
            size = stream.seek(0, os.SEEK_END)
            return size, _last_line(os.pread(stream.fileno(), LONGEST_LINE, max(0, size - LONGEST_LINE)))
    except FileNotFoundError:
        return 0, ""


def _last_line(content: bytes) -> str:
    lines = content.decode("ascii", "replace").splitlines()
    return lines[-1] if lines else ""


def _follows(end: tuple[int, str]) -> bool:
    """Whether the database knows the last line of the journal; in one query, so that no row is between two states."""
    _, last = end
    if not last:
        return True
    lines = Erasure.objects.exclude(line="")
    newest = lines.filter(written=True).order_by("-number").values("number")[:1]
    return lines.filter(Q(number=Subquery(newest)) | Q(written=False), line=last).exists()


def replay() -> dict[str, int]:
    """Erase and end again what the journal says; say how many rows of each kind were dealt with.

    One transaction, which may be repeated: what is gone already is not found again.
    """
    content = _content()
    with transaction.atomic(), locks.single_writer("erasure journal replayed"):
        marks = marks_in(content)
        # First, since what is erased again is noted again, in lines that follow.
        _stand_at(content)
        return {kind: replayer(marks.get(kind, frozenset())) for kind, replayer in _replayers.items()}


def _stand_at(content: bytes) -> None:
    """Remember how far the database has followed the journal."""
    if last := _last_line(content):
        Erasure.objects.create(line=last, written=True)


def replay_if_ahead() -> dict[str, int]:
    if not is_ahead():
        return {}
    done = replay()
    log.warning("the database is older than the erasure journal; erased again: %s", sum(done.values()))
    return done
