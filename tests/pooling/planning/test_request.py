"""What cannot be planned is refused with every reason and its place."""

import msgspec
import pytest

from pooling.planning import PlanInvalid, PlanRequest, Spot
from pooling.planning.request import checked, first_day_from_min, room_by_day
from pooling.vocabulary import SITES
from tests.pooling.planning.requests import ARM, THIGH, asked

BAD = [
    (asked(ARM, ARM), 10, "#/spots"),
    (PlanRequest(spots=(Spot(ARM, ("left", "left")), Spot(THIGH)), sensor_model="m"), 10, "#/spots"),
    (asked(*SITES[:5], wears_per_site=6), 10, "#/wears_per_site"),
    (asked(first_day_pairs=4, daily_cap=3), 10, "#/first_day_pairs"),
    (asked(pairs_per_wear=60, daily_cap=5), 10, "#/pairs_per_wear"),
    (asked(daily_cap=1, first_day_pairs=1), 7, "#/daily_cap"),
    (asked(waking_min=500, insert_after_waking_min=500), 10, "#/insert_after_waking_min"),
]


@pytest.mark.parametrize(("request_", "days", "pointer"), BAD)
def test_a_reason_has_a_place(request_, days, pointer):
    with pytest.raises(PlanInvalid) as refused:
        checked(request_, rated_life_days=days)
    assert pointer in [fault.pointer for fault in refused.value.faults]


def test_all_reasons_are_said_at_once():
    with pytest.raises(PlanInvalid) as refused:
        checked(asked(ARM, ARM, first_day_pairs=9), rated_life_days=10)
    assert len(refused.value.faults) == 2


def test_what_can_be_planned_is_handed_back():
    assert checked(asked(), rated_life_days=10) == asked()


def test_a_first_day_that_ends_before_the_sensor_is_warm_has_no_room():
    late = asked(waking_min=600, insert_after_waking_min=420, warm_up_min=150)
    assert first_day_from_min(late) == 570
    assert room_by_day(late, rated_life_days=3) == [0, 5, 5]
    assert room_by_day(asked(), rated_life_days=3) == [5, 5, 5]


@pytest.mark.parametrize(
    "changed",
    [
        {"spots": [{"site": ARM}]},
        {"spots": [{"site": "elbow"}, {"site": ARM}]},
        {"daily_cap": 11},
        {"waking_min": 1300},
        {"starts_on": "2031-03-01"},
        {"resting": [{"site": ARM, "side": "left", "days_since": -1}]},
    ],
)
def test_no_date_fits_in_and_bounds_hold(changed):
    content = {"spots": [{"site": ARM}, {"site": THIGH}], "sensor_model": "demo-a14"}
    assert msgspec.convert(content, PlanRequest) == asked()
    with pytest.raises(msgspec.ValidationError):
        msgspec.convert(content | changed, PlanRequest)
