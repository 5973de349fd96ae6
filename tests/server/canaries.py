"""Looks for planted readings and clock times in whatever a service leaves behind: in words, packed, and wrapped.

A canary is a value that nothing else has. A strong form of it cannot stand somewhere by chance; one hit is a finding.
A weak form, of four bytes or less, may do so in a long file; it is a finding where several canaries stand close
together, as in any column or row that was packed.
"""

import base64
import binascii
import re
import struct
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

CLOSE_BYTES = {"packed": 64, "text": 256}
SEVERAL = 4
DEEPEST = 3
LARGEST_UNPACKED = 1 << 24
ZLIB_HEAD = re.compile(rb"\x78[\x01\x5e\x9c\xda]|\x1f\x8b\x08")
BASE64_RUN = re.compile(rb"[A-Za-z0-9+/_-]{16,}={0,2}")
WINDOW_BITS = 32 + zlib.MAX_WBITS  # zlib or gzip, told apart by the head


@dataclass(frozen=True, slots=True)
class Form:
    """One way in which a value may have been written down."""

    name: str
    written: bytes
    strong: bool

    def places(self, data: bytes) -> Iterator[int]:
        place = data.find(self.written)
        while place >= 0:
            yield place
            place = data.find(self.written, place + 1)


@dataclass(frozen=True, slots=True)
class Canary:
    name: str
    forms: tuple[Form, ...]


def _packed(name: str, kinds: Iterable[str], value: float) -> Iterator[Form]:
    for kind in kinds:
        for order, ends in (("<", "little"), (">", "big")):
            packed = struct.pack(order + kind, value)
            # A whole number below 65,536 in eight bytes is six zeros and a short form.
            yield Form(f"{name} {kind} {ends}", packed, strong=len(packed.strip(bytes(1))) > 4)


def _text(name: str, text: str, *, strong: bool) -> Iterator[Form]:
    # Whatever stands on either side: a database writes one column of a row right after the other.
    yield Form(f"{name} text", text.encode(), strong)
    yield Form(f"{name} UTF-16 text", text.encode("utf-16-le"), strong)


def reading(value: float) -> Canary:
    """A glucose reading with two decimals that nobody else would have."""
    hundredths = round(value * 100)
    shown = f"{value:.2f}"
    forms = [
        *_text("reading", shown, strong=True),
        *_text("decimal comma", shown.replace(".", ","), strong=True),
        *_text("hundredths", str(hundredths), strong=False),
        *_packed("reading", "df", value),
        *_packed("hundredths", "HIq", hundredths),
    ]
    return Canary(f"reading {shown}", tuple(forms))


def moment(when: datetime) -> Canary:
    """A clock time to the second, without a zone, as an instrument writes it."""
    seconds = int(when.replace(tzinfo=UTC).timestamp())
    days = ("%Y-%m-%d", "%d/%m/%Y", "%m/%d/%Y", "%d.%m.%Y", "%Y%m%d")
    written = [f"{when:{day}}{gap}{when:{clock}}" for day in days for gap in " T" for clock in ("%H:%M", "%H:%M:%S")]
    texts = dict.fromkeys([*written, *(str(seconds * scale) for scale in (1, 10**3, 10**6, 10**9))])
    forms = [form for text in texts for form in _text("moment", text, strong=True)]
    forms += _text("time of day", f"{when:%H:%M:%S}", strong=False)
    forms += _packed("seconds", "Iqd", seconds)
    for name, scale in (("milliseconds", 10**3), ("microseconds", 10**6), ("nanoseconds", 10**9)):
        forms += _packed(name, "qd", seconds * scale)
    return Canary(f"moment {when:%H:%M:%S}", tuple(forms))


def found_in(data: bytes, canaries: Iterable[Canary], *, depth: int = 0) -> list[str]:
    """What of the canaries stands in these bytes, or in what was compressed or written as base64 inside them."""
    canaries = tuple(canaries)
    findings = [*_strong(data, canaries), *_weak(data, canaries)]
    if depth < DEEPEST:
        for inner in _wrapped(data):
            findings += found_in(inner, canaries, depth=depth + 1)
    return list(dict.fromkeys(findings))


def _strong(data: bytes, canaries: tuple[Canary, ...]) -> Iterator[str]:
    for canary in canaries:
        yield from (f"{canary.name}: {form.name}" for form in canary.forms if form.strong and form.written in data)


def _weak(data: bytes, canaries: tuple[Canary, ...]) -> Iterator[str]:
    places: dict[str, list[tuple[int, str]]] = {}
    for canary in canaries:
        for form in canary.forms:
            if not form.strong:
                places.setdefault(form.name, []).extend((place, canary.name) for place in form.places(data))
    for name, hits in places.items():
        width = CLOSE_BYTES["text" if name.endswith("text") else "packed"]
        if _several_close(sorted(hits), width):
            yield f"several canaries: {name}"


def _several_close(hits: list[tuple[int, str]], width: int) -> bool:
    return any(
        len({name for place, name in hits[first : first + 4 * SEVERAL] if place < start + width}) >= SEVERAL
        for first, (start, _) in enumerate(hits)
    )


def _wrapped(data: bytes) -> Iterator[bytes]:
    for head in ZLIB_HEAD.finditer(data):
        try:
            inner = zlib.decompressobj(WINDOW_BITS).decompress(data[head.start() :], LARGEST_UNPACKED)
        except zlib.error:
            continue
        if inner:
            yield inner
    for run in BASE64_RUN.finditer(data):
        text = run[0].rstrip(b"=").translate(bytes.maketrans(b"-_", b"+/"))
        try:
            yield base64.b64decode(text + b"=" * (-len(text) % 4))
        except binascii.Error:
            continue


# ---- where to look ---------------------------------------------------------------------------------------------------


def found_in_files(place: Path, canaries: Iterable[Canary]) -> list[str]:
    """Every file below a folder, whatever it is: databases with their journals, logs, queues, leftovers.

    All are read before any is searched, and a database's journal before the database that it is written into:
    what moves from the one to the other meanwhile is seen in one of them.
    """
    canaries = tuple(canaries)
    found = sorted((path for path in place.rglob("*") if path.is_file()), reverse=True)
    contents = [(path.relative_to(place), path.read_bytes()) for path in found]
    return [f"{name}: {finding}" for name, content in reversed(contents) for finding in found_in(content, canaries)]


def database_bytes() -> bytes:
    """The database as it stands in this transaction: pages of SQLite, or every row as PostgreSQL writes it out."""
    from django.db import connection

    connection.ensure_connection()
    if connection.vendor == "sqlite":
        return bytes(connection.connection.serialize())
    with connection.cursor() as cursor:
        return b"".join(_copied(cursor, table) for table in connection.introspection.table_names(cursor))


def _copied(cursor: Any, table: str) -> bytes:
    chunks = []
    for written in ("", " WITH (FORMAT binary)"):
        with cursor.copy(f'COPY "{table}" TO STDOUT{written}') as rows:
            chunks += [bytes(row) for row in rows]
    return b"".join(chunks)


def broker_bytes(address: str) -> bytes:
    """Every key of a broker with its value, as the broker itself would write it to a file."""
    from redis import Redis

    with Redis.from_url(address.replace("redis+socket", "unix")) as broker:
        return b"".join(key + b"\n" + (broker.dump(key) or b"") for key in broker.scan_iter())
