import json

import pytest

from pooling.caution import CAUTION_TEXT
from server.accounts.consents import CONSENT_TEXT, CONSENT_VERSION
from server.accounts.models import Account
from tests.server.records import CHILD

pytestmark = pytest.mark.django_db
PASSWORD = "four ordinary words here"
JOINING = {"password": PASSWORD, "consent_version": CONSENT_VERSION, "scopes": {"keep": True, "pool": True}}


def test_from_reading_the_consent_to_being_gone(api):
    words = api.get("/api/v1/vocabulary/").json()
    assert words["consent"]["text"] == CONSENT_TEXT
    joined = api.post("/api/v1/members/", JOINING | {"consent_version": words["consent"]["text_version"]})
    assert joined.status_code == 201
    sign_in = {"sign_in_name": joined.json()["sign_in_name"], "password": PASSWORD}
    token = api.post("/api/v1/tokens/", sign_in)
    assert token.status_code == 201
    api.credentials(HTTP_AUTHORIZATION=f"Bearer {token.json()['token']}")
    assert [row["scope"] for row in api.get("/api/v1/me/consents/").json()["given"]] == ["keep", "pool"]
    assert api.delete("/api/v1/me/").status_code == 204
    assert api.get("/api/v1/me/consents/").status_code == 401
    api.credentials()
    assert api.post("/api/v1/tokens/", sign_in).status_code == 401
    assert not Account.objects.exists()


@pytest.mark.parametrize(
    ("body", "pointers"),
    [
        ({}, ["#/password", "#/consent_version", "#/scopes"]),
        (JOINING | {"email": "somebody@post.example"}, ["#/email"]),
        (JOINING | {"password": "short"}, ["#/password"]),
        (JOINING | {"scopes": {"keep": "perhaps"}}, ["#/scopes/keep"]),
        (JOINING | {"scopes": {"keep": True, "sell": True}}, ["#/scopes/sell"]),
        (JOINING | {"password": 10**300}, ["#/password"]),
        ([JOINING], ["#"]),
    ],
)
def test_faults_in_joining_are_pointed_at_and_nothing_is_stored(api, body, pointers):
    answer = api.post("/api/v1/members/", body)
    assert answer.status_code == 422
    assert [fault["pointer"] for fault in answer.json()["faults"]] == pointers
    assert PASSWORD not in answer.content.decode()
    assert not Account.objects.exists()


@pytest.mark.parametrize(
    ("body", "media_type", "status"),
    [
        (b"{", "application/json", 400),
        (b"\xff", "application/json", 400),
        (b'{"password": "\x00"}', "application/json", 400),
        (b"password=x", "application/x-www-form-urlencoded", 415),
    ],
)
def test_what_is_no_json_is_refused_as_such(api, body, media_type, status):
    answer = api.generic("POST", "/api/v1/members/", body, content_type=media_type)
    assert answer.status_code == status
    assert answer["Content-Type"] == "application/problem+json"


def test_an_address_that_joins_too_often_is_told_when_to_come_back(api, monkeypatch):
    from server.accounts import throttles

    monkeypatch.setitem(throttles.MOST_TRIES_PER_HOUR, "join", 1)
    assert api.post("/api/v1/members/", JOINING).status_code == 201
    answer = api.post("/api/v1/members/", JOINING)
    assert answer.status_code == 429
    assert 0 < int(answer["Retry-After"]) <= 3600


def test_recovery_sets_a_new_password(api, stranger):
    body = {
        "sign_in_name": stranger.sign_in_name,
        "recovery_code": stranger.recovery_codes[0],
        "password": "another four ordinary words",
    }
    answer = api.post("/api/v1/tokens/recovery/", body)
    assert answer.status_code == 201
    api.credentials(HTTP_AUTHORIZATION=f"Bearer {answer.json()['token']}")
    assert api.get("/api/v1/me/wearers/").status_code == 200
    assert stranger.api.get("/api/v1/me/wearers/").status_code == 401


def test_signing_out_ends_this_token_only(stranger, api):
    other = api.post("/api/v1/tokens/", {"sign_in_name": stranger.sign_in_name, "password": stranger.password})
    assert stranger.api.delete("/api/v1/tokens/current/").status_code == 204
    assert stranger.api.get("/api/v1/me/wearers/").status_code == 401
    api.credentials(HTTP_AUTHORIZATION=f"Bearer {other.json()['token']}")
    assert api.get("/api/v1/me/wearers/").status_code == 200


def test_a_switch_is_turned(stranger):
    body = {"scope": "pool", "given": False, "text_version": CONSENT_VERSION}
    assert stranger.api.post("/api/v1/me/consents/", body).status_code == 201
    last = stranger.api.get("/api/v1/me/consents/").json()["given"][-1]
    assert {name: last[name] for name in body} == body


def test_wearers_are_listed_and_added_to_their_own_account(stranger, new_member):
    added = stranger.api.post("/api/v1/me/wearers/", CHILD)
    assert added.status_code == 201
    assert added.json()["id"] in {wearer["id"] for wearer in stranger.api.get("/api/v1/me/wearers/").json()["wearers"]}
    assert len(new_member().api.get("/api/v1/me/wearers/").json()["wearers"]) == 1
    assert stranger.api.post("/api/v1/me/wearers/", {"relation": "cat", "age_class": "child"}).status_code == 422


@pytest.mark.parametrize(
    ("method", "path"),
    [("get", "me/consents/"), ("post", "me/wearers/"), ("delete", "me/"), ("delete", "tokens/current/")],
)
def test_what_is_a_members_own_needs_a_token(api, method, path):
    answer = getattr(api, method)(f"/api/v1/{path}")
    assert answer.status_code == 401
    assert answer["WWW-Authenticate"] == "Bearer"
    assert answer["Content-Type"] == "application/problem+json"


def test_the_caution_stands_in_every_result(api, stranger):
    for client, path in ((api, "vocabulary/"), (stranger.api, "me/consents/"), (stranger.api, "me/wearers/")):
        assert client.get(f"/api/v1/{path}").json()["caution"]["text"] == CAUTION_TEXT


def test_the_description_of_the_api_is_openapi_3_1(api):
    described = json.loads(api.get("/api/v1/schema/").content)
    assert described["openapi"].startswith("3.1")
    assert "/api/v1/members/" in described["paths"] or "/members/" in described["paths"]
