"""What was sent from here, noted in a small file beside each record, so that nothing is sent twice by mistake.

The note is written before the record goes out. If the line breaks, the next try finds the same key in it, and the
server, which knows the key for a day, answers as it did the first time.
"""

import hashlib
import os
import secrets
from pathlib import Path

import msgspec
from msgspec import Struct

from pooling.cli.exits import Exit, Stop

ENDING = ".sent"


class Sending(Struct, frozen=True, forbid_unknown_fields=True):
    """One record on its way to one server; `wear` is its id there once it has arrived."""

    key: str
    digest: str
    wearer: str | None = None
    wear: str | None = None


class Note(Struct, frozen=True, forbid_unknown_fields=True):
    """The content of the file beside a record."""

    servers: dict[str, Sending]
    format: str = "commonwear-sent/1"


def note_beside(record: Path) -> Path:
    return record.with_name(record.name + ENDING)


def last_sending(record: Path, address: str) -> Sending | None:
    """What the note says of this server, if anything. Errors as `begin`."""
    return _read(note_beside(record)).servers.get(address)


def begin(record: Path, address: str, raw: bytes, *, wearer: str | None) -> Sending:
    """Note that this record is about to be sent: under the key of an unfinished try, or under a new one.

    Raises
    ------
    Stop
        If the note cannot be read or written.
    """
    fresh = Sending(secrets.token_hex(16), digest_of(raw), wearer)
    last = last_sending(record, address)
    unfinished = last is not None and last.wear is None and (last.digest, last.wearer) == (fresh.digest, wearer)
    sending = last if last is not None and unfinished else fresh
    _write(record, address, sending)
    return sending


def finish(record: Path, address: str, sending: Sending, *, wear: str) -> None:
    """Note that it arrived. Errors as `begin`."""
    _write(record, address, msgspec.structs.replace(sending, wear=wear))


def digest_of(raw: bytes) -> str:
    return hashlib.sha256(raw).hexdigest()


def _read(path: Path) -> Note:
    try:
        return msgspec.json.decode(path.read_bytes(), type=Note)
    except FileNotFoundError:
        return Note({})
    except (OSError, msgspec.DecodeError):
        message = f"{path} cannot be read. It says what was sent; if it is damaged, remove it and send again."
        raise Stop(Exit.UNREADABLE, message) from None


def _write(record: Path, address: str, sending: Sending) -> None:
    """Whole or not at all, and for nobody else's eyes."""
    path = note_beside(record)
    note = Note(_read(path).servers | {address: sending})
    beside = path.with_name(f"{path.name}.{secrets.token_hex(4)}")
    try:
        descriptor = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "wb") as file:
            file.write(msgspec.json.format(msgspec.json.encode(note), indent=2) + b"\n")
        beside.replace(path)
    except OSError as error:
        reason = (error.strerror or "it cannot be written").lower()
        message = f"{path}, which notes what was sent, was not written: {reason}. Copy the record to a folder of yours."
        raise Stop(Exit.UNREADABLE, message) from None
