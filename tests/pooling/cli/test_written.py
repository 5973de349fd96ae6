import json

import msgspec
import pytest

from pooling.cli.written import record_bytes
from pooling.errors import RecordInvalid
from pooling.record import parse_record, record_from


@pytest.fixture
def content(good_record):
    good_record["pairs"][1] |= {"sensor": None, "sensor_mark": "below"}
    return good_record


def test_the_bytes_say_what_the_record_says(content):
    assert parse_record(record_bytes(content)) == record_from(content)


def test_a_line_a_field_and_a_line_a_pair(content):
    lines = record_bytes(content).decode().splitlines()
    assert lines[0] == "{"
    assert '  "calibrated": false,' in lines
    pairs = [msgspec.json.decode(line.rstrip(",")) for line in lines if line.startswith("    ")]
    assert [pair["elapsed_min"] for pair in pairs] == [pair["elapsed_min"] for pair in content["pairs"]]
    assert '"reference": 112,' in "".join(lines)


def test_what_nobody_said_is_not_written(content):
    said = content | {"conditions": {"pinch": "thin"}, "skin": {"grade": 0, "signs": []}, "pairs": []}
    for name in ("side", "plan", "events", "ratings"):
        del said[name]
    written = json.loads(record_bytes(said))
    assert written["conditions"] == {"pinch": "thin"}
    assert written["skin"] == {"grade": 0}
    assert written["pairs"] == []
    assert not {"side", "plan", "events", "ratings"} & set(written)


def test_what_has_faults_makes_no_bytes(content):
    with pytest.raises(RecordInvalid) as invalid:
        record_bytes(content | {"site": "knee", "name": "somebody"})
    assert {fault.pointer for fault in invalid.value.faults} == {"#/site", "#/name"}
