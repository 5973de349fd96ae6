import hashlib
import json
import stat

import pytest

from pooling.cli.exits import Exit, Stop
from pooling.cli.outbox import begin, finish, last_sending, note_beside

ADDRESS, OTHER = "https://pool.example", "https://other.example"
RAW = b'{"format": "wear-record/1"}'


@pytest.fixture
def record(tmp_path):
    path = tmp_path / "wear.json"
    path.write_bytes(RAW)
    return path


def test_an_unfinished_try_keeps_its_key_and_a_finished_one_does_not(record):
    first = begin(record, ADDRESS, RAW, wearer=None)
    assert begin(record, ADDRESS, RAW, wearer=None) == first
    finish(record, ADDRESS, first, wear="d468c7ed")
    assert last_sending(record, ADDRESS).wear == "d468c7ed"
    assert begin(record, ADDRESS, RAW, wearer=None).key != first.key


@pytest.mark.parametrize(("raw", "wearer"), [(b"{}", None), (RAW, "a child")], ids=["changed", "another wearer"])
def test_another_request_has_another_key(record, raw, wearer):
    first = begin(record, ADDRESS, RAW, wearer=None)
    assert begin(record, ADDRESS, raw, wearer=wearer).key != first.key


def test_each_server_has_a_line_of_its_own(record):
    here, there = begin(record, ADDRESS, RAW, wearer=None), begin(record, OTHER, RAW, wearer=None)
    assert here.key != there.key
    assert (last_sending(record, ADDRESS), last_sending(record, OTHER)) == (here, there)


def test_the_note_is_the_owners_alone_and_holds_no_reading(record):
    sending = begin(record, ADDRESS, RAW, wearer=None)
    path = note_beside(record)
    assert path.name == "wear.json.sent"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert json.loads(path.read_bytes()) == {
        "format": "commonwear-sent/1",
        "servers": {
            ADDRESS: {
                "key": sending.key,
                "digest": hashlib.sha256(RAW).hexdigest(),
                "wearer": None,
                "wear": None,
            }
        },
    }
    assert [path.name for path in sorted(record.parent.iterdir())] == ["wear.json", "wear.json.sent"]


@pytest.mark.parametrize("content", [b"", b"{}", b'{"servers": {"a": {"key": 1}}}'], ids=["empty", "other", "odd"])
def test_a_damaged_note_is_not_passed_over(record, content):
    note_beside(record).write_bytes(content)
    with pytest.raises(Stop, match="remove it and send again") as stopped:
        begin(record, ADDRESS, RAW, wearer=None)
    assert stopped.value.code == Exit.UNREADABLE
    assert note_beside(record).read_bytes() == content


def test_where_no_note_can_be_written_nothing_is_begun(tmp_path):
    with pytest.raises(Stop, match="Copy the record to a folder of yours") as stopped:
        begin(tmp_path / "absent" / "wear.json", ADDRESS, RAW, wearer=None)
    assert stopped.value.code == Exit.UNREADABLE
