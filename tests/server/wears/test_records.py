import pytest

from server.core.errors import Invalid, TooLarge
from server.wears.records import faults_of_model, read_record
from tests.server.records import raw, record

pytestmark = pytest.mark.django_db


def test_a_record_is_read(catalogue):
    assert read_record(raw()).worn_min == record()["worn_min"]


@pytest.mark.parametrize(
    ("changes", "code"),
    [({"site": "nose"}, "enum"), ({"sensor_model": "demo-closed"}, "unknown_sensor_model")],
    ids=str,
)
def test_a_fault_has_its_place_and_its_code(catalogue, changes, code):
    with pytest.raises(Invalid) as refusal:
        read_record(raw(**changes))
    assert [(fault["pointer"], fault["code"]) for fault in refusal.value.faults] == [(f"#/{next(iter(changes))}", code)]


def test_a_long_body_is_refused_unread():
    with pytest.raises(TooLarge):
        read_record(b" " * 1_000_001)


def test_only_open_models_are_listed(catalogue):
    assert faults_of_model("demo-a14") == []
    assert len(faults_of_model("demo-closed")) == len(faults_of_model("demo-z99")) == 1
