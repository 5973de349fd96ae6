import time

import pytest

from server.accounts.second_factor import code_at
from tests.conftest import PASSWORD

pytestmark = pytest.mark.django_db

ADDRESS = "/api/v1/me/second-factor/"


def test_it_is_set_up_asked_for_and_switched_off(stranger, api, monkeypatch):
    now = 1_900_000_000
    monkeypatch.setattr(time, "time", lambda: now)
    assert stranger.api.get(ADDRESS).json()["on"] is False
    guessed = stranger.api.post(ADDRESS, {"present_password": "not the password at all"})
    assert (guessed.status_code, guessed.json()["faults"][0]["pointer"]) == (422, "#/present_password")
    begun = stranger.api.post(ADDRESS, {"present_password": PASSWORD})
    secret = begun.json()["secret"]
    assert (begun.status_code, secret in begun.json()["address"]) == (201, True)
    wrong = stranger.api.put(ADDRESS, {"one_time_code": "000000"})
    assert (wrong.status_code, wrong.json()["faults"][0]["pointer"]) == (422, "#/one_time_code")
    assert stranger.api.put(ADDRESS, {"one_time_code": code_at(secret, now - 30)}).json()["on"] is True

    words = {"sign_in_name": stranger.sign_in_name, "password": PASSWORD}
    asked = api.post("/api/v1/tokens/", words)
    assert (asked.status_code, asked.json()["code"]) == (401, "one-time-code-needed")
    assert api.post("/api/v1/tokens/", words | {"one_time_code": code_at(secret, now)}).status_code == 201
    again = words | {"one_time_code": code_at(secret, now)}
    assert api.post("/api/v1/tokens/", again).status_code == 401

    assert stranger.api.delete(ADDRESS, {"one_time_code": "000000"}).status_code == 422
    code = stranger.recovery_codes[0]
    assert stranger.api.delete(ADDRESS, {"one_time_code": code}).json()["on"] is False
    assert api.post("/api/v1/tokens/", words).status_code == 201


def test_it_is_ones_own(api):
    assert api.post(ADDRESS).status_code == 401
