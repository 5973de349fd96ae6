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


# What each of the cast gets: stranger, member, other group's moderator, moderator.
@pytest.mark.parametrize(
    ("method", "path", "expected"),
    [
        ("get", "curation/", (404, 403, 404, 200)),
        ("get", "curation/{wear}/", (404, 403, 404, 200)),
        ("post", "curation/{wear}/decision/", (404, 403, 404, 201)),
        ("get", "record/", (404, 403, 404, 200)),
    ],
)
def test_who_may_curate(wear, stranger, contributor, member_of_another_group, moderator, method, path, expected):
    address = HARBOUR + path.format(wear=wear.id)
    body = {"action": "approve"} if method == "post" else None
    cast = (stranger, contributor, member_of_another_group, moderator)
    assert tuple(getattr(one.api, method)(address, body).status_code for one in cast) == expected


def test_a_missing_wear_and_one_of_another_group_look_alike(wear, member_of_another_group):
    meadow = "/api/v1/groups/meadow/curation/"
    foreign, missing = (member_of_another_group.api.get(f"{meadow}{name}/") for name in (wear.id, uuid.uuid4()))
    assert foreign.status_code == 404
    assert foreign.content == missing.content
