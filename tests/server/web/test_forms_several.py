import pytest

from server.web.drafts import Draft
from server.web.forms_several import SeveralForm

pytestmark = pytest.mark.django_db
WHOLE = {
    "sensor_model": "demo-a14",
    "assignment": "chosen",
    "meter_class": "unknown",
    "calibrated": True,
    "worn_min": 9,
}
BARE = {"pairs": []}


def form(*records, **sent):
    waiting = [Draft("", record) for record in records]
    blank = dict.fromkeys(("sensor_model", "assignment", "meter_class", "calibrated"), "")
    return SeveralForm({"wearer": "me", **blank, **sent}, wearers={"me": "me"}, waiting=waiting)


def test_what_every_record_says_itself_need_not_be_told(catalogue):
    asked = form(WHOLE)
    assert asked.is_valid()
    (told,) = asked.told
    assert WHOLE.items() <= told.record.items()


def test_what_one_record_leaves_open_is_asked_of_all(catalogue):
    assert set(form(WHOLE, BARE).errors) == {"sensor_model", "assignment", "meter_class", "calibrated"}


def test_what_is_told_for_all_goes_into_each(catalogue):
    alike = {"sensor_model": "demo-a14", "assignment": "only_option", "meter_class": "unknown", "calibrated": "no"}
    asked = form(WHOLE, BARE, **alike, **{"site-1": "calf", "worn_days-1": "3"})
    assert asked.is_valid()
    first, second = (draft.record for draft in asked.told)
    assert (first["assignment"], first["calibrated"], first["worn_min"]) == ("only_option", False, 9)
    assert (second["site"], second["worn_min"]) == ("calf", 3 * 24 * 60)
    assert "site" not in first


@pytest.mark.parametrize("days", ["many", "31", "-1"])
def test_a_length_that_cannot_be_is_a_fault_of_its_line(catalogue, days):
    assert "worn_days-1" in form(WHOLE, BARE, **{"worn_days-1": days}).errors
