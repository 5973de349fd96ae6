import uuid

import pytest

pytestmark = pytest.mark.django_db

HARBOUR = "/api/v1/groups/harbour/"


@pytest.fixture
def wear(give, contributor):
    return give(contributor)


def test_from_the_queue_to_a_decision_on_the_record(wear, moderator):
    queue = moderator.api.get(f"{HARBOUR}curation/").json()["wears"]
    assert [one["wear"] for one in queue] == [str(wear.id)]
    seen = moderator.api.get(f"{HARBOUR}curation/{wear.id}/").json()
    assert (seen["site"], seen["n_pairs"]) == ("thigh.front", 20)
    decided = moderator.api.post(f"{HARBOUR}curation/{wear.id}/decision/", {"action": "approve"})
    assert decided.status_code == 201
    record = moderator.api.get(f"{HARBOUR}record/").json()["decisions"]
    assert [one["chain_hash"] for one in record] == [decided.json()["chain_hash"]]
    assert moderator.api.get(f"{HARBOUR}curation/").json()["wears"] == []


def test_moderators_see_no_account_and_no_reading(wear, moderator, contributor):
    for path in ("curation/", f"curation/{wear.id}/", "record/"):
        told = moderator.api.get(f"{HARBOUR}{path}").content.decode()
        assert str(contributor.account.id) not in told
        assert contributor.sign_in_name not in told
        assert "reference" not in told
        assert "elapsed" not in told


@pytest.mark.parametrize(
    ("body", "status"),
    [
        ({"action": "exclude"}, 422),
        ({"action": "exclude", "code": "because"}, 422),
        ({"action": "approve", "code": "copied"}, 409),
        ({"action": "burn"}, 422),
        ({}, 422),
        ({"action": "exclude", "code": "copied"}, 201),
    ],
)
def test_decisions_are_of_the_listed_kinds(wear, moderator, body, status):
    assert moderator.api.post(f"{HARBOUR}curation/{wear.id}/decision/", body).status_code == status


BODIES = {
    "decision": {"action": "approve"},
    "question": {"question": "site"},
    "approvals": {"wears": [str(uuid.uuid4())]},
}


# What each of the cast gets: stranger, member, other group's moderator, moderator.
@pytest.mark.parametrize(
    ("method", "path", "expected"),
    [
        ("get", "curation/", (404, 403, 404, 200)),
        ("get", "curation/{wear}/", (404, 403, 404, 200)),
        ("post", "curation/{wear}/question/", (404, 403, 404, 201)),
        ("post", "curation/approvals/", (404, 403, 404, 200)),
        ("post", "curation/{wear}/decision/", (404, 403, 404, 201)),
        ("get", "record/", (404, 403, 404, 200)),
    ],
)
def test_who_may_curate(wear, stranger, contributor, member_of_another_group, moderator, method, path, expected):
    address = HARBOUR + path.format(wear=wear.id)
    body = BODIES.get(path.split("/")[-2])
    cast = (stranger, contributor, member_of_another_group, moderator)
    assert tuple(getattr(one.api, method)(address, body).status_code for one in cast) == expected


def test_clean_wears_are_approved_together(give, contributor, moderator):
    wears = [str(give(contributor, seed=seed).id) for seed in (1, 2)]
    missing = str(uuid.uuid4())
    done = moderator.api.post(f"{HARBOUR}curation/approvals/", {"wears": [*wears, missing]}, format="json").json()
    assert [entry["action"] for entry in done["approved"]] == ["approve", "approve"]
    assert [left["wear"] for left in done["left"]] == [missing]
    record = moderator.api.get(f"{HARBOUR}record/?after=1").json()
    assert ([entry["number"] for entry in record["decisions"]], record["next"]) == ([2], None)
    assert moderator.api.get(f"{HARBOUR}record/?after=x").status_code == 422


def test_too_many_looks_say_when_to_come_back(give, contributor, moderator, monkeypatch):
    from server.curation import looks

    monkeypatch.setattr(looks, "MOST_WEARS_A_DAY", 1)
    first, second = (give(contributor, seed=seed).id for seed in (1, 2))
    assert moderator.api.get(f"{HARBOUR}curation/{first}/").status_code == 200
    refused = moderator.api.get(f"{HARBOUR}curation/{second}/")
    assert (refused.status_code, 0 < int(refused["Retry-After"]) <= 86_400) == (429, True)


def test_a_missing_wear_and_one_of_another_group_look_alike(wear, member_of_another_group):
    meadow = "/api/v1/groups/meadow/curation/"
    foreign, missing = (member_of_another_group.api.get(f"{meadow}{name}/") for name in (wear.id, uuid.uuid4()))
    assert foreign.status_code == 404
    assert foreign.content == missing.content


CLOSING = {"site": "thigh.front", "sensor_model": "demo-a14", "end": 24, "code": "swapped", "families": ["accuracy"]}


def test_sums_are_ended_early_in_two_steps(sealed):
    address, moderator = "/api/v1/groups/harbour/closings/", sealed.moderator
    assert [each["end"] for each in moderator.api.get(address).json()["ends"]] == [24]
    told = moderator.api.post(address, CLOSING)
    assert told.status_code == 200
    assert "cannot be undone" in told.json()["stops"]
    assert "off-label" in told.json()["caution"]["text"]
    assert moderator.api.get(address).json()["due"] == []
    done = moderator.api.post(address, CLOSING | {"confirm": told.json()["confirm"]})
    assert done.status_code == 201
    assert done.json()["closes"] == "thigh.front|demo-a14|24|accuracy"
    assert [each["site"] for each in moderator.api.get(address).json()["due"]] == ["thigh.front"]
    assert moderator.api.get("/api/v1/groups/harbour/record/").json()["decisions"][-1]["action"] == "close"


@pytest.mark.parametrize(
    ("changes", "status"),
    [({"confirm": "no such word"}, 409), ({"end": 25}, 422), ({"families": ["beauty"]}, 422), ({"wear": "x"}, 422)],
    ids=str,
)
def test_a_closing_that_is_refused_ends_nothing(sealed, changes, status):
    address = "/api/v1/groups/harbour/closings/"
    assert sealed.moderator.api.post(address, CLOSING | changes).status_code == status
    assert sealed.moderator.api.get(address).json()["due"] == []


def test_closings_are_for_moderators(sealed, stranger):
    address = "/api/v1/groups/harbour/closings/"
    for member, status in ((sealed.crowd[0], 403), (stranger, 404)):
        assert member.api.get(address).status_code == status
        assert member.api.post(address, CLOSING).status_code == status
