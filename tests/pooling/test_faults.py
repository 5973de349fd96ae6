import pytest

from pooling.faults import PLAUSIBLE, RULES, pointer, rule_faults
from pooling.units import to_mg_dl


def _codes(content):
    return [(fault.pointer, fault.code) for fault in rule_faults(content)]


def test_a_good_record_breaks_no_rule(good_record):
    assert rule_faults(good_record) == ()


@pytest.mark.parametrize(
    ("change", "place", "code"),
    [
        ({"ratings": {"ease": None, "rated_by": "self"}}, "#/ratings", "ratings_empty"),
        ({"skin": {"grade": 0, "signs": ["itch"]}}, "#/skin/signs", "skin_signs"),
        ({"skin": {"grade": 0}, "end_reason": "removed_skin"}, "#/skin/grade", "skin_end"),
        ({"skin": {"grade": 4}, "end_reason": "completed"}, "#/skin/grade", "skin_end"),
        ({"skin": {"grade": 2, "signs": ["itch", "itch"]}}, "#/skin/signs", "repeated"),
        ({"conditions": {"exposed": ["water", "water"]}}, "#/conditions/exposed", "repeated"),
        ({"events": [{"kind": "knock", "elapsed_min": 20011}]}, "#/events/0/elapsed_min", "outside_wear"),
    ],
)
def test_rules_of_the_header(good_record, change, place, code):
    assert _codes(good_record | change) == [(place, code)]
    assert code in RULES


@pytest.mark.parametrize(
    ("change", "name", "code"),
    [
        ({"elapsed_min": 20011}, "elapsed_min", "outside_wear"),
        ({"sensor": None}, "sensor", "sensor_or_mark"),
        ({"sensor_mark": "below"}, "sensor_mark", "sensor_or_mark"),
        ({"reference": 6.2}, "reference", "reading_range"),
        ({"sensor": 601}, "sensor", "reading_range"),
        ({"replicate": 12}, "replicate", "reading_range"),
        ({"prompt": "calibration"}, "prompt", "calibrated"),
    ],
)
def test_rules_of_a_pair(good_record, change, name, code):
    good_record["pairs"][2] |= change
    assert _codes(good_record) == [(f"#/pairs/2/{name}", code)]
    assert code in RULES


def test_a_marked_pair_has_no_number(good_record):
    good_record["pairs"][2] |= {"sensor": None, "sensor_mark": "below"}
    assert rule_faults(good_record) == ()


def test_a_calibrated_sensor_may_have_calibration_pairs(good_record):
    good_record["calibrated"] = True
    good_record["pairs"][2]["prompt"] = "calibration"
    assert rule_faults(good_record) == ()


def test_ranges_of_the_two_units_are_the_same_range():
    converted = to_mg_dl(PLAUSIBLE["mmol/L"], "mmol/L")
    assert converted == pytest.approx(PLAUSIBLE["mg/dL"], abs=0.5)


def _in_mmol_l(good_record, *names):
    for pair in good_record["pairs"]:
        pair |= {name: round(pair[name] / 18.0156, 1) for name in names}
    return good_record


def test_a_record_wholly_in_the_other_unit_has_one_fault(good_record):
    (fault,) = rule_faults(good_record | {"glucose_unit": "mmol/L"})
    assert (fault.pointer, fault.code) == ("#/glucose_unit", "wrong_unit")
    assert fault.message.endswith("look like mg/dL; correct the unit")
    assert fault.code in RULES
    (fault,) = rule_faults(_in_mmol_l(good_record, "reference", "sensor"))
    assert fault.message.endswith("look like mmol/L; correct the unit")


def test_a_column_in_the_other_unit_is_one_fault_that_names_it(good_record):
    (fault,) = rule_faults(_in_mmol_l(good_record, "sensor"))
    assert fault.pointer == "#/glucose_unit"
    assert "but the sensor's readings look like mmol/L" in fault.message


def test_what_fits_neither_unit_is_still_said_of_its_reading(good_record):
    record = _in_mmol_l(good_record, "reference", "sensor")
    record["pairs"][1]["sensor"] = 900
    assert _codes(record) == [("#/glucose_unit", "wrong_unit"), ("#/pairs/1/sensor", "reading_range")]


def test_one_reading_in_the_other_unit_is_said_of_that_reading(good_record):
    good_record["pairs"][1]["sensor"] = 7.4
    assert _codes(good_record) == [("#/pairs/1/sensor", "reading_range")]


def test_pointers_escape_what_json_pointers_escape():
    # RFC 6901, section 3: ~ becomes ~0 and / becomes ~1.
    assert pointer(("pairs", 0, "a/b~c")) == "#/pairs/0/a~1b~0c"
    assert pointer(()) == "#"


@pytest.mark.parametrize(
    "content",
    [
        {"pairs": [3, None, {"reference": "x", "sensor": True}], "worn_min": "long", "glucose_unit": []},
        {"skin": 4},
        [],
        3,
    ],
)
def test_ill_shaped_parts_are_left_to_the_schema(content):
    assert {code for _, code in _codes(content)} <= {"sensor_or_mark"}
