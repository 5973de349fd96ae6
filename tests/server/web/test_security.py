import re
import time

import pytest
from django.test import Client

from server.accounts import recovery, second_factor
from server.accounts.services import sign_in
from tests.conftest import PASSWORD
from tests.server.web.test_sign_in import NEW, words

pytestmark = pytest.mark.django_db


def test_a_new_password_keeps_this_browser_and_no_other(browser_of, stranger):
    browser = browser_of(stranger)
    told = {"present_password": PASSWORD, "password": NEW}
    assert browser.post("/account/password/", told | {"present_password": "x"}).status_code == 422
    assert browser.post("/account/password/", told)["Location"] == "/account/"
    assert "Your new password holds" in words(browser.get("/account/"))
    assert stranger.api.get("/api/v1/me/wearers/").status_code == 401
    assert sign_in(stranger.sign_in_name, NEW)


def test_browsers_elsewhere_end_with_a_new_password_and_when_they_are_told_to(browser_of, stranger):
    here, there = browser_of(stranger), Client()
    for path, told in (
        ("/account/password/", {"present_password": PASSWORD, "password": NEW}),
        ("/account/elsewhere/", {}),
    ):
        stranger.account.refresh_from_db()
        there.force_login(stranger.account)
        assert there.get("/account/").status_code == 200
        assert here.post(path, told)["Location"] == "/account/"
        assert (here.get("/account/").status_code, there.get("/account/").status_code) == (200, 302)


def test_new_codes_are_shown_once(browser_of, stranger):
    answer = browser_of(stranger).post("/account/recovery-codes/", {"present_password": PASSWORD})
    codes = re.findall(r"<li><code>([a-z0-9-]+)</code>", answer.content.decode())
    assert len(codes) == 6
    assert recovery.use_up(codes[0], account=stranger.account)
    assert not recovery.use_up(stranger.recovery_codes[0], account=stranger.account)


def test_an_authenticator_app_is_set_up_confirmed_and_switched_off(browser_of, stranger, monkeypatch):
    monkeypatch.setattr(time, "time", lambda: 1_900_000_000)
    browser = browser_of(stranger)
    assert "Set it up" in words(browser.get("/account/authenticator/"))
    wrong = browser.post("/account/authenticator/new/", {"present_password": "not the password at all"})
    assert (wrong.status_code, second_factor.pending(stranger.account)) == (422, None)
    begun = browser.post("/account/authenticator/new/", {"present_password": PASSWORD})
    assert begun["Location"] == "/account/authenticator/"
    page = browser.get("/account/authenticator/")
    secret = second_factor.pending(stranger.account).secret
    assert secret in words(page)
    assert b"<svg" in page.content
    assert b"style=" not in page.content
    assert browser.post("/account/authenticator/", {"one_time_code": "000000"}).status_code == 422
    code = second_factor.code_at(secret, 1_900_000_000)
    assert browser.post("/account/authenticator/", {"one_time_code": code}).status_code == 302
    assert second_factor.is_on(stranger.account)
    assert secret not in words(browser.get("/account/authenticator/"))
    assert browser.post("/account/authenticator/", {"one_time_code": stranger.recovery_codes[0]}).status_code == 302
    assert not second_factor.is_on(stranger.account)


def test_signing_out_elsewhere_leaves_this_browser(browser_of, stranger):
    browser = browser_of(stranger)
    browser.post("/account/elsewhere/")
    assert "1 other sign-in has ended" in words(browser.get("/account/"))
    assert stranger.api.get("/api/v1/me/wearers/").status_code == 401
