"""Copies of the database, made while the service runs, and put back into an empty one.

A copy never lies on a disk in clear, where it would leave bytes of what is erased later. That of an SQLite file is held
in memory on its way; PostgreSQL's own tools stream theirs.
"""

import hashlib
import os
import secrets
import shutil
import sqlite3
import subprocess
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from django.db import connection

from server import env
from server.core import clock, envelope
from server.core.envelope import EnvelopeError

PIECE_BYTES = 1024 * 1024


def make(target: Path, *, key: bytes) -> str:
    """Write a consistent copy to `target`, whole or not at all; its SHA-256. Nothing is ever written over."""
    if target.exists():
        raise EnvelopeError(f"{target} exists already; name a new file.")
    draft = target.with_name(f".{target.name}.{secrets.token_hex(8)}")
    content = _from_sqlite() if connection.vendor == "sqlite" else _from_postgresql()
    head = {"database": connection.vendor, "made_on": clock.today().isoformat()}
    try:
        with os.fdopen(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as stream:
            envelope.write(stream, content, key=key, head=head)
            stream.flush()
            os.fsync(stream.fileno())
        draft.rename(target)
    except OSError as error:
        raise EnvelopeError(f"{target} cannot be written: {error.strerror}.") from None
    finally:
        draft.unlink(missing_ok=True)
    return sha256_of(target)


def sha256_of(file: Path) -> str:
    with file.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def put_back(source: Path, *, key: bytes) -> None:
    """Fill the empty database from a copy, all of it or nothing."""
    refuse_unless_empty()
    try:
        with source.open("rb") as stream:
            made_from = envelope.head_of(stream)["database"]
            if made_from != connection.vendor:
                raise EnvelopeError(
                    f"This is a copy of {made_from}, and the database here is {connection.vendor}. "
                    f"Restore it into {made_from} first; `move` then carries SQLite to PostgreSQL."
                )
            stream.seek(0)
            pieces = envelope.read(stream, key=key)
            _into_sqlite(pieces) if connection.vendor == "sqlite" else _into_postgresql(pieces)
    except OSError as error:
        raise EnvelopeError(f"{source} cannot be read: {error.strerror}.") from None


def refuse_unless_empty() -> None:
    if n_tables := len(connection.introspection.table_names()):
        raise EnvelopeError(
            f"The database is not empty ({n_tables} tables). A copy goes into an empty one only: move the SQLite "
            "file away, or make a new PostgreSQL database and name it in DATABASE_URL."
        )


def _from_sqlite() -> Iterator[bytes]:
    connection.ensure_connection()
    with sqlite3.connect(":memory:") as copy:
        connection.connection.backup(copy)
        content = copy.serialize()
    copy.close()
    for start in range(0, len(content), PIECE_BYTES):
        yield content[start : start + PIECE_BYTES]


def _into_sqlite(pieces: Iterable[bytes]) -> None:
    content = bytearray(b"".join(pieces))
    # A copy of a file with a write-ahead log says so in its head, and a database in memory can have none.
    content[18:20] = b"\x01\x01"
    connection.ensure_connection()
    with sqlite3.connect(":memory:") as copy:
        copy.deserialize(bytes(content))
        copy.backup(connection.connection)
    copy.close()
    connection.close()


def _from_postgresql() -> Iterator[bytes]:
    with subprocess.Popen(_tool("pg_dump", "--format=custom"), stdout=subprocess.PIPE, env=_way()) as dump:  # noqa: S603
        assert dump.stdout is not None
        while piece := dump.stdout.read(PIECE_BYTES):
            yield piece
    if dump.returncode:
        raise EnvelopeError("pg_dump failed; what it says stands above. No copy was made.")


def _into_postgresql(pieces: Iterable[bytes]) -> None:
    options = ("--single-transaction", "--exit-on-error", f"--dbname={_parameters()['dbname']}")
    restoring = subprocess.Popen(_tool("pg_restore", *options), stdin=subprocess.PIPE, env=_way())  # noqa: S603
    assert restoring.stdin is not None
    try:
        for piece in pieces:
            restoring.stdin.write(piece)
        restoring.stdin.close()
    except BrokenPipeError:  # what it says is on the screen
        pass
    except BaseException:
        restoring.kill()
        raise
    finally:
        restoring.wait()
    if restoring.returncode:
        raise EnvelopeError("pg_restore failed; what it says stands above. The database is as empty as before.")


def _tool(name: str, *options: str) -> list[str]:
    path = shutil.which(name)
    if path is None:
        raise EnvelopeError(f"{name} is not on the path. It comes with PostgreSQL's client programs.")
    return [path, "--no-owner", "--no-privileges", *options]


def _parameters() -> dict[str, Any]:
    return dict(connection.get_connection_params())


def _way() -> dict[str, str]:
    """How PostgreSQL's tools find the database: in their environment, where no list of processes shows it."""
    known = _parameters()
    names = {"host": "PGHOST", "port": "PGPORT", "user": "PGUSER", "password": "PGPASSWORD", "dbname": "PGDATABASE"}
    return env.for_another_process(**{word: str(known[name]) for name, word in names.items() if known.get(name)})
