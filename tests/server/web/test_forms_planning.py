import pytest
from django.utils import translation

from pooling.planning import PlanRequest
from server.core.decoding import converted
from server.core.errors import Fault, Invalid
from server.web.forms_planning import CalendarForm, PlanForm

pytestmark = pytest.mark.django_db
TOLD = {
    "wearer": "one",
    "sites": ["calf", "chest"],
    "sensor_model": "demo-a14",
    "wears_per_site": "2",
    "daily_cap": "2",
    "waking_hours": "12",
    "design": "alternating",
}


def filled(**changes):
    return PlanForm(TOLD | changes, wearers={"one": "me"})


def test_what_is_asked_is_a_request_that_can_be_read(catalogue):
    form = filled()
    assert form.is_valid(), form.errors
    request = converted(form.as_asked, PlanRequest)
    assert (request.waking_min, request.first_day_pairs, request.pairs_per_wear) == (720, 2, None)
    assert [spot.sides for spot in request.spots] == [("left", "right")] * 2


def test_the_bounds_of_a_number_are_said_in_the_language_of_the_page(catalogue):
    with translation.override("de"):
        assert filled(wears_per_site="9").errors["wears_per_site"] == ["Von 1 bis 6."]
    assert filled(wears_per_site="9").errors["wears_per_site"] == ["From 1 to 6."]


def test_seven_sites_are_too_many(catalogue):
    sites = ["chest", "calf", "buttock", "forearm", "lower_back", "thigh.front", "thigh.outer"]
    assert filled(sites=sites).errors["sites"] == ["Tick two to six sites: a test sets one against another."]
    assert not filled(sites=sites[:6]).errors


@pytest.mark.parametrize(
    ("pointer", "field"),
    [("#/spots/0/site", "sites"), ("#/waking_min", "waking_hours"), ("#/insert_after_waking_min", "__all__")],
)
def test_a_fault_stands_beside_its_field(catalogue, pointer, field):
    form = filled()
    form.refuse(Invalid("No.", faults=[Fault(pointer=pointer, message="Not so.")]))
    assert form.errors[field] == ["Not so."]


def test_a_calendar_needs_a_day_and_an_hour():
    assert CalendarForm({"first_day": "2037-05-04", "wakes_at": "07:30"}).is_valid()
    assert set(CalendarForm({"first_day": "4.5.", "wakes_at": ""}).errors) == {"first_day", "wakes_at"}
