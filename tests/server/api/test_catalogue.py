import pytest

from server.core.catalogue import accept_proposal, proposals

pytestmark = pytest.mark.django_db

PROPOSALS = "/api/v1/sensor-models/proposals/"
FACTS = {"slug": "demo-x10", "rated_life_days": "10.5", "licensed_sites": [{"site": "calf", "ages": "adult"}]}


def test_a_member_proposes_and_what_is_accepted_is_in_the_catalogue(contributor, api):
    answer = contributor.api.post(PROPOSALS, FACTS)
    assert (answer.status_code, answer.json()["slug"]) == (201, "demo-x10")
    accept_proposal(proposals()[0].pk)
    listed = api.get("/api/v1/sensor-models/").json()["sensor_models"]
    assert [model["slug"] for model in listed] == ["demo-x10"]
    assert contributor.api.post(PROPOSALS, FACTS).status_code == 409


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"slug": "anna"}, "#/slug"),
        ({"rated_life_days": "0"}, "#/rated_life_days"),
        ({"licensed_sites": [{"site": "nose", "ages": "all"}]}, "#/licensed_sites"),
        ({"licensed_sites": [{"site": "calf", "ages": "some"}]}, "#/licensed_sites"),
        ({"algorithm_generation": 0}, "#/algorithm_generation"),
        ({"remark": "from a friend"}, "#/remark"),
    ],
)
def test_only_bounded_facts_are_taken(contributor, change, pointer):
    answer = contributor.api.post(PROPOSALS, FACTS | change)
    assert answer.status_code == 422
    assert [fault["pointer"] for fault in answer.json()["faults"]] == [pointer]
    assert proposals() == []


def test_whoever_is_not_signed_in_proposes_nothing(api):
    assert api.post(PROPOSALS, FACTS).status_code == 401
