import pytest

pytestmark = pytest.mark.django_db

GROUPS = "/api/v1/groups/"
FOUND = {"slug": "brook", "name": "Brook", "feeds_everyone": False, "wearers": "adult"}


def test_a_group_is_founded_with_its_founder_as_moderator(stranger):
    answer = stranger.api.post(GROUPS, FOUND | {"public": True, "protocol": {"k": 7}})
    assert answer.status_code == 201
    assert "perhaps for ever" in answer.json()["small_group"]
    assert stranger.api.get(f"{GROUPS}brook/protocol/").json()["k"] == 7
    assert [member["role"] for member in stranger.api.get(f"{GROUPS}brook/members/").json()["members"]] == ["moderator"]


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"protocol": {"k": 4}}, "#/protocol/k"),
        ({"protocol": {"fewest_pairs": 7}}, "#/protocol/fewest_pairs"),
        ({"protocol": {"widest_gap_min": 16}}, "#/protocol/widest_gap_min"),
        ({"protocol": {"k": "many"}}, "#/protocol/k"),
        ({"wearers": "cats"}, "#/wearers"),
        ({"slug": "Everyone"}, "#/slug"),
        ({"colour": "blue"}, "#/colour"),
    ],
)
def test_floors_hold_and_faults_are_pointed_at(stranger, change, pointer):
    answer = stranger.api.post(GROUPS, FOUND | change)
    assert answer.status_code == 422
    assert pointer in {fault["pointer"] for fault in answer.json()["faults"]}
    assert stranger.api.get(f"{GROUPS}brook/").status_code == 404


def test_public_groups_are_listed_for_all_and_others_for_their_members(api, stranger, group):
    stranger.api.post(GROUPS, FOUND)
    assert [found["slug"] for found in api.get(GROUPS).json()["public"]] == ["everyone", "harbour"]
    assert [found["slug"] for found in stranger.api.get(GROUPS).json()["yours"]] == ["brook"]


def test_a_hidden_group_and_none_look_alike(stranger, contributor):
    stranger.api.post(GROUPS, FOUND)
    hidden, missing = (contributor.api.get(f"{GROUPS}{slug}/") for slug in ("brook", "nowhere"))
    assert hidden.status_code == 404
    assert hidden.content == missing.content
    refused = contributor.api.put(f"{GROUPS}brook/membership/", {})
    assert refused.status_code == 404


def test_an_invitation_lets_one_account_in(stranger, contributor, moderator):
    stranger.api.post(GROUPS, FOUND)
    code = stranger.api.post(f"{GROUPS}brook/invitations/").json()["invitation"]
    joined = contributor.api.put(f"{GROUPS}brook/membership/", {"invitation": code})
    assert (joined.status_code, joined.json()["role"]) == (200, "member")
    assert moderator.api.put(f"{GROUPS}brook/membership/", {"invitation": code}).status_code == 404


def test_joining_and_leaving(stranger, group):
    assert stranger.api.put(f"{GROUPS}harbour/membership/", {}).status_code == 200
    assert stranger.api.delete(f"{GROUPS}harbour/membership/").status_code == 204
    assert stranger.api.delete(f"{GROUPS}harbour/membership/").status_code == 404


# What each of the cast gets: stranger, member, other group's moderator, moderator.
CALLS = {
    "members": ("get", "members/", None, (404, 403, 404, 200)),
    "invitations": ("post", "invitations/", None, (404, 403, 404, 201)),
    "protocol": ("put", "protocol/", {"k": 6}, (404, 403, 404, 200)),
}


@pytest.mark.parametrize("call", CALLS)
def test_what_moderators_do_nobody_else_does(group, stranger, contributor, member_of_another_group, moderator, call):
    method, path, body, expected = CALLS[call]
    everyone = moderator.api.get(f"{GROUPS}everyone/protocol/").json()
    if call == "protocol":
        # A group that feeds everyone may not ask for more people than everyone does.
        assert everyone["k"] == 5
        expected = (*expected[:3], 422)
    cast = (stranger, contributor, member_of_another_group, moderator)
    assert tuple(getattr(one.api, method)(f"{GROUPS}harbour/{path}", body).status_code for one in cast) == expected


def test_a_role_is_given_by_pseudonym(group, moderator, contributor):
    members = moderator.api.get(f"{GROUPS}harbour/members/").json()["members"]
    member = next(one["member"] for one in members if one["role"] == "member")
    assert str(contributor.account.id) != member
    answer = moderator.api.put(f"{GROUPS}harbour/members/{member}/role/", {"role": "moderator"})
    assert answer.json()["role"] == "moderator"
    assert contributor.api.get(f"{GROUPS}harbour/members/").status_code == 200


def test_several_faults_are_pointed_at_at_once(stranger):
    answer = stranger.api.post(GROUPS, FOUND | {"protocol": {"k": 4, "fewest_pairs": 2, "first_day": "maybe"}})
    assert answer.status_code == 422
    assert answer["Content-Type"] == "application/problem+json"
    pointers = {fault["pointer"] for fault in answer.json()["faults"]}
    assert pointers == {"#/protocol/k", "#/protocol/fewest_pairs", "#/protocol/first_day"}


def test_a_changed_protocol_is_pointed_at_where_it_was_sent(moderator, group):
    answer = moderator.api.put(f"{GROUPS}harbour/protocol/", {"k": 4, "widest_gap_min": 99})
    assert [fault["pointer"] for fault in answer.json()["faults"]] == ["#/k"]
    answer = moderator.api.put(f"{GROUPS}harbour/protocol/", {"fewest_pairs": 4, "widest_gap_min": 99})
    assert {fault["pointer"] for fault in answer.json()["faults"]} == {"#/fewest_pairs", "#/widest_gap_min"}


def test_founders_of_a_small_group_get_odds_and_a_room(stranger):
    numbers = {"members": 12, "wears_a_month": 2, "sites": 6, "months": 2}
    answer = stranger.api.post(GROUPS, FOUND | {"feeds_everyone": True, "expected": numbers}).json()
    assert answer["odds"]["n_runs"] == 100
    assert (answer["figures_of"], stranger.api.get(f"{GROUPS}brook/").json()["figures_of"]) == ("everyone", "everyone")


def test_a_group_is_described_anew(moderator, group):
    answer = moderator.api.put(f"{GROUPS}harbour/", {"description": "Sensors by the sea."})
    assert (answer.status_code, answer.json()["name"]) == (200, "Harbour")
    assert moderator.api.get(f"{GROUPS}harbour/").json()["description"] == "Sensors by the sea."


def test_an_invitation_is_listed_and_revoked(stranger, contributor):
    stranger.api.post(GROUPS, FOUND)
    code = stranger.api.post(f"{GROUPS}brook/invitations/", {"uses": 2}).json()["invitation"]
    listed = stranger.api.get(f"{GROUPS}brook/invitations/").json()["invitations"]
    assert [(one["uses_left"], one["yours"]) for one in listed] == [(2, True)]
    assert stranger.api.delete(f"{GROUPS}brook/invitations/{listed[0]['id']}/").status_code == 204
    assert contributor.api.put(f"{GROUPS}brook/membership/", {"invitation": code}).status_code == 404
