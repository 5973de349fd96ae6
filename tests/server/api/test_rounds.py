import pytest

from tests.server.records import raw

pytestmark = pytest.mark.django_db

ROUNDS = "/api/v1/groups/harbour/rounds/"
ROUND = {"sensor_model": "demo-a14", "sites": ["thigh.front", "calf"], "start_month": "2031-03-01"}


def test_a_round_from_its_opening_to_a_wear_that_follows_it(moderator, contributor, catalogue, clock):
    opened = moderator.api.post(ROUNDS, ROUND)
    assert opened.status_code == 201
    mine = contributor.api.put(f"{ROUNDS}{opened.json()['id']}/place/").json()
    assert sorted(mine["order"]) == ["calf", "thigh.front"]
    assert contributor.api.get(ROUNDS).json()["rounds"][0]["plan"] == mine["plan"]
    assert moderator.api.get(ROUNDS).json()["rounds"][0]["order"] is None
    assert contributor.api.get("/api/v1/me/export/").json()["rounds"][0]["order"] == mine["order"]

    def send(key, path="/api/v1/wears/", **changes):
        body = raw(plan=mine["plan"], assignment="randomised", **changes)
        return contributor.api.generic("POST", path, body, content_type="application/json", HTTP_IDEMPOTENCY_KEY=key)

    kept = send("1", site=mine["order"][0])
    assert kept.status_code == 201
    assert "plan_not_registered" not in [finding["code"] for finding in kept.json()["report"]["findings"]]
    for path in ("/api/v1/wears/", "/api/v1/wears/preview/"):
        refused = send("2", path, site="chest")
        assert refused.status_code == 422
        assert [fault["pointer"] for fault in refused.json()["faults"]] == ["#/site"]


def test_faults_are_pointed_at(moderator, group, catalogue, clock):
    answer = moderator.api.post(ROUNDS, ROUND | {"sites": ["calf", "nose"]})
    assert [fault["pointer"] for fault in answer.json()["faults"]] == ["#/sites"]
