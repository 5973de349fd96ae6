import json

import msgspec
import pytest
from jsonschema import Draft202012Validator

from pooling import vocabulary
from pooling.errors import RecordInvalid
from pooling.faults import PLAUSIBLE, rule_faults
from pooling.record import (
    MAX_BYTES,
    WearRecord,
    from_header,
    header_of,
    parse_record,
    record_schema,
)


def _raw(content):
    return json.dumps(content).encode()


def _faults(content):
    with pytest.raises(RecordInvalid) as caught:
        parse_record(_raw(content))
    return {fault.pointer: fault for fault in caught.value.faults}


def _objects():
    schema = record_schema()
    return [schema["$defs"][name] for name in schema["$defs"] if "properties" in schema["$defs"][name]]


def test_a_good_record_keeps_every_field(good_record):
    record = parse_record(_raw(good_record))
    assert json.loads(msgspec.json.encode(record)) == good_record
    assert record.pairs[0].reference == 112
    assert Draft202012Validator(record_schema()).is_valid(good_record)


def test_only_the_facts_that_nobody_may_guess_are_required(good_record):
    kept = record_schema()["$defs"]["WearRecord"]["required"]
    record = parse_record(_raw({name: good_record[name] for name in kept}))
    assert record.meter_class == "unknown"
    assert record.skin is None
    assert record.ratings is None


@pytest.mark.parametrize(
    "change",
    [
        {"elapsed_min": 20_011},
        {"sensor": None},
        {"sensor_mark": "below"},
        {"reference": 6.2},
        {"reference": 19.9},
        {"sensor": 6.2},
        {"replicate": 12},
        {"prompt": "calibration"},
    ],
)
def test_whatever_the_rules_say_of_a_pair_is_said_of_the_record(good_record, change):
    good_record["pairs"][2] |= change
    (fault,) = rule_faults(good_record)
    assert _faults(good_record) == {fault.pointer: fault}


@pytest.mark.parametrize("edge", PLAUSIBLE["mg/dL"])
def test_readings_at_the_edges_and_marks_are_taken(good_record, edge):
    good_record["calibrated"] = True
    good_record["pairs"][1] |= {"reference": edge, "replicate": edge, "prompt": "calibration"}
    good_record["pairs"][2] |= {"sensor": None, "sensor_mark": "above", "elapsed_min": good_record["worn_min"]}
    assert parse_record(_raw(good_record)).pairs[1].replicate == edge


def test_a_wear_without_pairs_is_a_wear(good_record):
    good_record |= {"pairs": [], "worn_min": 300, "end_reason": "fell_off", "events": []}
    assert parse_record(_raw(good_record)).pairs == ()


def test_the_schema_is_a_valid_one_of_its_draft():
    Draft202012Validator.check_schema(record_schema())
    assert record_schema()["$schema"] == "https://json-schema.org/draft/2020-12/schema"


@pytest.mark.parametrize("schema", _objects(), ids=lambda schema: schema["title"])
def test_every_property_says_what_why_who_and_how_long(schema):
    assert schema["additionalProperties"] is False
    for name, declared in schema["properties"].items():
        for word in ("description", "x-purpose", "x-reader", "x-retention"):
            assert declared.get(word, "").strip(), f"{schema['title']}.{name} lacks {word}"


@pytest.mark.parametrize(
    ("title", "name", "words"),
    [
        ("WearRecord", "site", vocabulary.SITES),
        ("WearRecord", "end_reason", vocabulary.END_REASONS),
        ("Pair", "prompt", vocabulary.PROMPTS),
        ("Event", "kind", vocabulary.EVENT_KINDS),
    ],
)
def test_lists_are_enums_of_the_vocabulary(title, name, words):
    declared = record_schema()["$defs"][title]["properties"][name]
    assert sorted(declared["enum"]) == sorted(words)


def test_a_reader_may_change_its_copy_of_the_schema():
    record_schema()["$defs"].clear()
    assert "WearRecord" in record_schema()["$defs"]


def test_there_is_no_place_for_free_text_names_or_dates():
    texts = [
        (schema["title"], name)
        for schema in _objects()
        for name, declared in schema["properties"].items()
        if '"type": "string"' in json.dumps(declared)
    ]
    patterned = {("WearRecord", "sensor_model"), ("WearRecord", "plan")}
    assert set(texts) == patterned


@pytest.mark.parametrize("content", [b"", b"{", b"\xff\xfe", b"[" * 100_000, b'{"a": NaN}'])
def test_what_is_no_json_is_said_to_be_none(content):
    with pytest.raises(RecordInvalid) as caught:
        parse_record(content)
    assert [fault.code for fault in caught.value.faults] == ["not_json"]


def test_a_record_too_large_is_not_even_read():
    with pytest.raises(RecordInvalid) as caught:
        parse_record(b" " * (MAX_BYTES + 1))
    assert caught.value.faults[0].code == "too_large"


def test_an_unknown_field_is_named(good_record):
    good_record["pairs"][1]["clock_time"] = "08:15"
    fault = _faults(good_record)["#/pairs/1/clock_time"]
    assert fault.code == "unknown_field"
    assert "'clock_time'" in fault.message
    assert "remove it" in fault.message


def test_all_faults_come_at_once_each_at_its_place(good_record):
    del good_record["site"]
    good_record["side"] = "up"
    good_record["skin"]["grade"] = 7
    good_record["ratings"]["ease"] = 8.0
    good_record["pairs"][0] |= {"elapsed_min": 30000, "reference": "112"}
    good_record["pairs"][2]["sensor"] = None
    good_record["pairs"][3]["sensor_mark"] = "above"
    assert {pointer: fault.code for pointer, fault in _faults(good_record).items()} == {
        "#/site": "missing",
        "#/side": "enum",
        "#/skin/grade": "maximum",
        "#/ratings/ease": "type",
        "#/pairs/0/reference": "type",
        "#/pairs/0/elapsed_min": "outside_wear",
        "#/pairs/2/sensor": "sensor_or_mark",
        "#/pairs/3/sensor_mark": "sensor_or_mark",
    }


def test_no_fault_repeats_a_reading(good_record):
    good_record["pairs"][0]["reference"] = 617.25
    assert all("617" not in fault.message for fault in _faults(good_record).values())


@pytest.mark.parametrize(
    "content", [None, 3, [], "wear", {}, {"pairs": 3, "skin": [], "events": {"a": 1}, "conditions": 0}]
)
def test_any_json_at_all_ends_in_faults_and_never_in_a_crash(content):
    assert _faults(content)


def test_a_header_brings_back_the_record_without_its_pairs(good_record):
    record = parse_record(_raw(good_record))
    header = json.loads(json.dumps(header_of(record)))
    assert "pairs" not in header
    assert from_header(header) == msgspec.structs.replace(record, pairs=())


def test_records_are_frozen(good_record):
    record = parse_record(_raw(good_record))
    with pytest.raises(AttributeError):
        record.site = "calf"
    assert isinstance(record, WearRecord)
