"""The searcher finds every canary in every form before anybody believes that it found none."""

import base64
import gzip
import json
import random
import struct
import zlib
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from tests.server.canaries import database_bytes, found_in, found_in_files, moment, reading

VALUES = (217.31, 143.87, 98.43, 301.59, 176.21)
START = datetime.fromisoformat("2031-01-17T03:41:27")
MOMENTS = tuple(START + timedelta(minutes=307 * index) for index in range(5))
CANARIES = (*map(reading, VALUES), *map(moment, MOMENTS))
SECONDS = [int(when.replace(tzinfo=UTC).timestamp()) for when in MOMENTS]
HUNDREDTHS = [round(100 * value) for value in VALUES]


def hay(n_bytes: int = 80_000) -> bytes:
    """Bytes in which nothing was planted: as many zeros and small numbers as a database has, and text."""
    numbers = random.Random(7)
    return b"".join(numbers.choice((bytes(8), numbers.randbytes(8), b"a word; ")) for _ in range(n_bytes // 8))


def planted(needle: bytes) -> bytes:
    stack = hay()
    return stack[:50_001] + needle + stack[50_001:]


PLANTED = {
    "text": b'{"sensor": 217.31}',
    "decimal comma": b"value;217,31;mg/dL",
    "UTF-16": "217.31".encode("utf-16-le"),
    "hundredths in JSON": json.dumps(HUNDREDTHS).encode(),
    "ISO time": b"2031-01-17T03:41:27",
    "a time without seconds": b"17/01/2031 03:41",
    "times of day": "\n".join(f"{when:%H:%M:%S};112" for when in MOMENTS).encode(),
    "seconds as text": str(SECONDS[0]).encode(),
    "datetime64": np.array(MOMENTS[:1], dtype="datetime64[ns]").tobytes(),
} | {
    f"{kind} of {what}": np.array(values, dtype=kind).tobytes()
    for what, values, kinds in (
        ("readings", VALUES, ("<f8", ">f8", "<f4", ">f4")),
        ("hundredths", HUNDREDTHS, ("<i2", ">i2", "<u2", ">u2", "<i4", ">i4", "<i8", ">i8")),
        ("moments", SECONDS, ("<i4", ">i4", "<i8", ">i8", "<f8", ">f8")),
    )
    for kind in kinds
    if kind[1:] != "i2" or max(values) < 2**15
}


def test_nothing_is_found_where_nothing_was_planted():
    assert found_in(hay(), CANARIES) == []


@pytest.mark.parametrize("needle", PLANTED.values(), ids=list(PLANTED))
def test_a_planted_canary_is_found(needle):
    assert found_in(planted(needle), CANARIES)


@pytest.mark.parametrize(
    "wrap",
    [
        zlib.compress,
        gzip.compress,
        base64.b64encode,
        base64.urlsafe_b64encode,
        lambda b: base64.b64encode(gzip.compress(b)),
    ],
    ids=["zlib", "gzip", "base64", "base64 of addresses", "gzip in base64"],
)
def test_it_is_found_inside_a_wrapper(wrap):
    assert found_in(planted(b" " + wrap(b'{"sensor": 217.31, "other": 1}') + b" "), CANARIES)


def test_rows_are_found_as_well_as_columns():
    rows = b"".join(struct.pack("<HBBi", value, 1, 2, -1) for value in HUNDREDTHS)
    assert found_in(planted(rows), CANARIES) == ["several canaries: hundredths H little"]


def test_a_single_short_form_is_no_finding_and_a_single_long_one_is():
    assert found_in(planted(struct.pack("<H", HUNDREDTHS[0])), CANARIES) == []
    assert found_in(planted(struct.pack("<d", VALUES[3])), CANARIES) == ["reading 301.59: reading d little"]


def test_files_are_searched_by_their_bytes(tmp_path):
    (tmp_path / "inner").mkdir()
    (tmp_path / "inner" / "leftover.bin").write_bytes(planted(b"217.31"))
    (tmp_path / "clean.log").write_bytes(hay(1000))
    assert found_in_files(tmp_path, CANARIES) == ["inner/leftover.bin: reading 217.31: reading text"]


def test_a_journal_is_read_before_the_database_that_it_is_written_into(tmp_path, monkeypatch):
    order = []
    for name in ("data.sqlite3", "data.sqlite3-shm", "data.sqlite3-wal"):
        (tmp_path / name).write_bytes(b"")
    read = Path.read_bytes
    monkeypatch.setattr(Path, "read_bytes", lambda path: order.append(path.name) or read(path))
    found_in_files(tmp_path, CANARIES)
    assert order.index("data.sqlite3-wal") < order.index("data.sqlite3")


@pytest.mark.django_db
def test_the_database_is_searched_column_by_column(contributor, upload):
    wear = upload(contributor)
    wear.header = wear.header | {"planted": VALUES[0]}
    wear.save()
    wear.pairs.block = np.array(VALUES, dtype="<f4").tobytes()
    wear.pairs.save()
    found = found_in(database_bytes(), CANARIES)
    assert "reading 217.31: reading text" in found
    assert "several canaries: reading f little" in found
