from contextlib import nullcontext

import pytest
from msgspec.structs import replace

from server.core.errors import Invalid, TooLarge
from server.wears.records import faults_beside_catalogue, read_record
from tests.server.records import pairs, raw, record

pytestmark = pytest.mark.django_db


def test_a_record_is_read(catalogue):
    assert read_record(raw()).worn_min == record()["worn_min"]


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"site": "nose"}, "enum"),
        ({"sensor_model": "demo-closed"}, "unknown_sensor_model"),
    ],
    ids=str,
)
def test_a_fault_has_its_place_and_its_code(catalogue, changes, code):
    with pytest.raises(Invalid) as refusal:
        read_record(raw(**changes))
    assert [(fault["pointer"], fault["code"]) for fault in refusal.value.faults] == [(f"#/{next(iter(changes))}", code)]


def test_a_long_body_is_refused_unread():
    with pytest.raises(TooLarge):
        read_record(b" " * 1_000_001)


@pytest.mark.parametrize("model", ["demo-closed", "demo-z99"])
def test_only_open_models_are_taken(catalogue, model):
    read = read_record(raw())
    assert faults_beside_catalogue(read) == []
    assert [fault["code"] for fault in faults_beside_catalogue(replace(read, sensor_model=model))] == [
        "unknown_sensor_model"
    ]


@pytest.mark.parametrize(
    ("worn_min", "end_reason", "n_faults"),
    [(13 * 1440, "completed", 0), (13 * 1440 - 1, "completed", 1), (13 * 1440 - 1, "fell_off", 0)],
)
def test_a_sensor_that_ended_more_than_a_day_before_its_life_did_not_end_as_meant(worn_min, end_reason, n_faults):
    found = raw(worn_min=worn_min, end_reason=end_reason, pairs=pairs(worn_min=10_000))
    with pytest.raises(Invalid) if n_faults else nullcontext() as refusal:
        read_record(found, lives={"demo-a14": 14.0})
    faults = refusal.value.faults if refusal else []
    assert [(fault["pointer"], fault["code"]) for fault in faults] == [("#/end_reason", "ended_early")] * n_faults
    assert all("rated to last 14 days" in fault["message"] for fault in faults)
