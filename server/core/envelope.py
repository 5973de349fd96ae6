"""A file under a key, in chunks: readable from a stream, and whole or refused.

Layout: a line that names the format, a line of JSON (the head), then chunks of AES-256-GCM. The nonce of a chunk is a
random prefix, its number, and whether it is the last one, so that none can be changed, moved, doubled or cut off unseen
(the STREAM construction of Hoang, Reyhanitabar, Rogaway and Vizár, 2015; cited from memory). The head is in clear and
bound to every chunk.
"""

import hashlib
import json
import os
import secrets
from base64 import b32decode, b32encode
from binascii import Error as NoBase32
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import IO, Any

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

FORMAT = b"commonwear-backup/1\n"
CHUNK_BYTES = 1024 * 1024
LONGEST_HEAD = 4096
_KEY_BYTES, _TAG_BYTES, _PREFIX_BYTES, _GROUP = 32, 16, 7, 4


class EnvelopeError(Exception):
    """A file or a key that cannot be used, in words for the operator."""


def new_key_file(file: Path) -> bytes:
    """Make a key, readable by its owner alone; the one that is there if another process was first."""
    file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    how = os.O_WRONLY | os.O_CREAT | os.O_EXCL
    with suppress(FileExistsError), os.fdopen(os.open(file, how, 0o600), "w") as stream:
        stream.write(in_letters(secrets.token_bytes(_KEY_BYTES)) + "\n")
        stream.flush()
        os.fsync(stream.fileno())
    return key_in(file)


def key_in(file: Path) -> bytes:
    """The key in a file, as it is printed: letters and digits in groups; blanks and dashes do not count."""
    try:
        letters = file.read_text(encoding="ascii").translate({ord(" "): None, ord("-"): None}).strip().upper()
        key = b32decode(letters + "=" * (-len(letters) % 8))
    except OSError as error:
        raise EnvelopeError(f"The backup key {file} cannot be read: {error.strerror}.") from None
    except (NoBase32, ValueError):
        key = b""
    if len(key) != _KEY_BYTES:
        raise EnvelopeError(f"{file} holds no backup key: 52 letters and digits were expected.")
    return key


def in_letters(key: bytes) -> str:
    letters = b32encode(key).decode().rstrip("=")
    return "-".join(letters[start : start + _GROUP] for start in range(0, len(letters), _GROUP))


def name_of(key: bytes) -> str:
    """By which a key is told from another; it gives nothing of the key away."""
    return hashlib.sha256(b"name of a backup key" + key).hexdigest()[:16]


def write(stream: IO[bytes], content: Iterable[bytes], *, key: bytes, head: dict[str, Any]) -> None:
    prefix = secrets.token_bytes(_PREFIX_BYTES)
    line = json.dumps({**head, "key": name_of(key), "prefix": prefix.hex()}, sort_keys=True).encode() + b"\n"
    stream.write(FORMAT + line)
    cipher, held, number = AESGCM(key), bytearray(), 0
    for piece in content:
        held += piece
        while len(held) > CHUNK_BYTES:
            stream.write(cipher.encrypt(_nonce(prefix, number, last=False), bytes(held[:CHUNK_BYTES]), line))
            del held[:CHUNK_BYTES]
            number += 1
    stream.write(cipher.encrypt(_nonce(prefix, number, last=True), bytes(held), line))


def head_of(stream: IO[bytes]) -> dict[str, Any]:
    return _head(stream)[0]


def read(stream: IO[bytes], *, key: bytes) -> Iterator[bytes]:
    """The content, piece by piece; only what has come to its end without a fault is whole."""
    head, line = _head(stream)
    if head["key"] != name_of(key):
        raise EnvelopeError(f"This backup is under the key {head['key']}, and the one given is {name_of(key)}.")
    cipher, prefix, number = AESGCM(key), bytes.fromhex(head["prefix"]), 0
    piece = stream.read(CHUNK_BYTES + _TAG_BYTES)
    last = False
    while not last:
        following = stream.read(CHUNK_BYTES + _TAG_BYTES)
        last = not following
        try:
            yield cipher.decrypt(_nonce(prefix, number, last=last), piece, line)
        except InvalidTag:
            raise EnvelopeError("This backup is damaged or cut short; use another one.") from None
        piece, number = following, number + 1


def _head(stream: IO[bytes]) -> tuple[dict[str, Any], bytes]:
    head: dict[str, Any] = {}
    if stream.read(len(FORMAT)) == FORMAT:
        line = stream.readline(LONGEST_HEAD)
        with suppress(ValueError):
            head = json.loads(line)
    if not isinstance(head, dict) or not {"key", "prefix", "database"} <= set(head):
        raise EnvelopeError("This file is no backup of this service.")
    return head, line


def _nonce(prefix: bytes, number: int, *, last: bool) -> bytes:
    return prefix + number.to_bytes(4) + bytes([last])
