"""Fair tests over HTTP: registered, listed, taken along as a calendar, dropped; each for its owner alone."""

import json

import pytest

from pooling.caution import CAUTION_VERSION

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("catalogue")]
PLANS = "/api/v1/me/plans/"
ASKED = {"spots": [{"site": "upper_arm.back"}, {"site": "thigh.front"}], "sensor_model": "demo-a14"}
CALENDAR = {"first_day": "2031-05-03", "wakes_at": "06:45"}


@pytest.fixture
def plan(contributor):
    answer = contributor.api.post(PLANS, ASKED, format="json")
    assert answer.status_code == 201
    return answer.json()


def test_a_plan_is_registered_read_listed_and_dropped(contributor, plan):
    address = f"{PLANS}{plan['id']}/"
    assert plan["caution"]["version"] == CAUTION_VERSION
    assert plan["plan"] == plan["id"].replace("-", "")
    assert plan["registered_month"] == "2031-02-01"
    assert len(plan["content"]["wears"]) == 4
    assert plan["rows"][0]["day"] == 1
    assert contributor.api.get(address).json() == plan
    assert [one["id"] for one in contributor.api.get(PLANS).json()["plans"]] == [plan["id"]]
    assert contributor.api.delete(address).status_code == 204
    assert contributor.api.get(address).status_code == 404


def test_the_calendar_file_is_one(contributor, plan):
    answer = contributor.api.post(f"{PLANS}{plan['id']}.ics", CALENDAR, format="json")
    assert (answer.status_code, answer["Content-Type"]) == (200, "text/calendar; charset=utf-8")
    assert answer["Cache-Control"] == "no-store"
    assert answer.content.startswith(b"BEGIN:VCALENDAR\r\n")
    assert b"DTSTART:20310503T074500" in answer.content


def test_what_a_calendar_is_made_of_comes_as_json(contributor, plan):
    answer = contributor.api.post(f"{PLANS}{plan['id']}.ics", json.dumps(CALENDAR), content_type="text/plain")
    assert answer.status_code == 415


@pytest.mark.parametrize(
    ("body", "pointer"),
    [({}, "#/first_day"), (CALENDAR | {"wakes_at": "early"}, "#/wakes_at"), (CALENDAR | {"zone": "UTC"}, "#/zone")],
)
def test_a_calendar_needs_a_day_and_an_hour(contributor, plan, body, pointer):
    answer = contributor.api.post(f"{PLANS}{plan['id']}.ics", body, format="json")
    assert answer.status_code == 422
    assert pointer in [fault["pointer"] for fault in answer.json()["faults"]]


def test_somebody_elses_plan_is_not_there(plan, stranger):
    assert stranger.api.get(f"{PLANS}{plan['id']}/").status_code == 404
    assert stranger.api.delete(f"{PLANS}{plan['id']}/").status_code == 404
    assert stranger.api.post(f"{PLANS}{plan['id']}.ics", CALENDAR, format="json").status_code == 404
    assert stranger.api.get(PLANS).json()["plans"] == []


def test_it_needs_an_account_and_a_plan_that_can_be_made(api, contributor):
    assert api.post(PLANS, ASKED, format="json").status_code == 401
    answer = contributor.api.post(PLANS, ASKED | {"spots": []}, format="json")
    assert answer.status_code == 422
    assert answer.json()["faults"][0]["pointer"] == "#/spots"
    for body in ([], 3, "plan"):
        assert contributor.api.post(PLANS, json.dumps(body), content_type="application/json").status_code == 422


def test_a_wear_of_the_plan_is_believed(contributor, plan, upload, clock):
    from datetime import date

    clock.set(date(2031, 3, 20))
    wear = upload(contributor, site="thigh.front", assignment="randomised", plan=plan["plan"])
    assert wear.header["assignment"] == "randomised"


def test_plans_stand_in_the_export(contributor, plan):
    kept = contributor.api.get("/api/v1/me/export/").json()["plans"]
    assert [one["plan"] for one in kept] == [plan["plan"]]
