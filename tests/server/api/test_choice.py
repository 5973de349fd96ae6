"""Sites side by side over HTTP: chances, what was left out, and faults with their place."""

import pytest

from pooling.caution import CAUTION_VERSION
from server.editions.weighing import CRITERIA
from server.groups.models import Group

WEIGHTS = {"accuracy": 3, "comfort": 1}


def ask(api, body, slug="hill-walkers"):
    return api.post(f"/api/v1/groups/{slug}/choice/", body, format="json")


def test_the_call_answers_with_chances_what_was_left_out_and_the_caution(edition, api):
    answer = ask(api, {"weights": WEIGHTS})
    told = answer.json()
    assert (answer.status_code, answer["Cache-Control"]) == (200, "no-store")
    assert told["caution"]["version"] == CAUTION_VERSION
    assert (told["edition"], told["sha256"]) == (7, edition.sha256)
    assert told["weights"] == {"accuracy": 0.75, "comfort": 0.25}
    assert sum(site["p_best_frac"] for site in told["sites"]) == pytest.approx(1)
    assert set(told["sites"][0]["figures"]) == set(told["scales"]) == set(WEIGHTS)
    assert {"site": "chest", "label": "chest", "not_told": ["comfort"]} in told["left_out"]
    assert ask(api, {"weights": {"accuracy": 6, "comfort": 2}, "edition": 7}).content == answer.content
    by_model = ask(api, {"weights": {"accuracy": 1}, "sensor_model": "demo-a14"}).json()
    assert {site["site"] for site in by_model["sites"]} == {"upper_arm.back", "abdomen.front"}


BAD = [
    ({}, "#/weights"),
    ({"weights": {}}, "#/weights"),
    ({"weights": {"accuracy": "much"}}, "#/weights/accuracy"),
    ({"weights": {"colour": 1}}, "#/weights/colour"),
    ({"weights": WEIGHTS, "site": "calf"}, "#/site"),
    ({"weights": WEIGHTS, "edition": 0}, "#/edition"),
]


@pytest.mark.parametrize(("body", "pointer"), BAD)
def test_the_call_says_where_a_fault_is(edition, api, body, pointer):
    answer = ask(api, body)
    assert answer.status_code == 422
    assert pointer in {fault["pointer"] for fault in answer.json()["faults"]}


def test_the_call_answers_hidden_and_missing_alike(edition, api):
    Group.objects.filter(slug="hill-walkers").update(public=False)
    assert ask(api, {"weights": WEIGHTS}).content == ask(api, {"weights": WEIGHTS}, slug="nobody").content


def test_all_that_can_be_weighed_can_be_asked_for(edition, api):
    assert ask(api, {"weights": dict.fromkeys(CRITERIA, 1)}).status_code == 200
