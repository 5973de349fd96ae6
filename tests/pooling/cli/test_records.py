import io
import json
import sys

import pytest

from pooling.cli.exits import Exit, Stop
from pooling.cli.records import described, judge, read_bytes, write_bytes
from pooling.record import record_from


def test_a_record_is_read_from_standard_input(monkeypatch, wear):
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(json.dumps(wear).encode())))
    judged = judge("-")
    assert judged.record == record_from(wear)
    assert judged.code == Exit.DONE


@pytest.mark.parametrize("name", ["no-such-file.json", "."])
def test_what_cannot_be_read_is_named(tmp_path, monkeypatch, name):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(Stop, match="Check the name of the file") as stopped:
        read_bytes(name)
    assert stopped.value.code == Exit.UNREADABLE


def test_what_cannot_be_written_is_named(tmp_path):
    with pytest.raises(Stop, match="Choose another place") as stopped:
        write_bytes(tmp_path / "no-such-folder" / "page.html", b"")
    assert stopped.value.code == Exit.UNREADABLE


def test_a_wear_in_one_line(good_record):
    # 20010 minutes are 13.9 days.
    assert described(record_from(good_record)) == (
        "flank, sensor model demo-a14, worn 13.9 days, worn to the end of its life, 5 pairs in mg/dL"
    )
