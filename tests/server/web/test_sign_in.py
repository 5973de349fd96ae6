"""Joining, signing in and out, and getting back in, as a browser does them."""

import re
import time
from datetime import timedelta
from html import unescape

import pytest
from django.test import Client
from django.utils import timezone

from server.accounts import second_factor, services, sessions, throttles
from server.accounts.consents import CONSENT_VERSION
from server.accounts.models import Account, WebSession
from server.accounts.selectors import has_consented
from server.core import clock
from tests.conftest import PASSWORD

pytestmark = pytest.mark.django_db
JOINING = {"consent_version": CONSENT_VERSION, "keep": "on", "pool": "on", "password": PASSWORD}
NEW = "some other ordinary words"


def words(answer):
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())).split())


def enter(client, member, **more):
    return client.post("/sign-in/", {"sign_in_name": member.sign_in_name, "password": PASSWORD} | more)


def test_joining_signs_in_and_shows_name_and_codes_this_once(client):
    page = client.get("/join/")
    assert f'name="consent_version" value="{CONSENT_VERSION}"' in page.content.decode()
    joined = client.post("/join/", JOINING)
    account = Account.objects.get()
    codes = re.findall(r"<li><code>([a-z0-9-]+)</code>", joined.content.decode())
    assert len(codes) == 6
    assert account.sign_in_name in words(joined)
    assert joined["Cache-Control"] == "no-store"
    assert client.post("/join/written-down/")["Location"] == "/wears/"
    assert client.get("/wears/").status_code == 200
    # Neither a second look nor a second sending shows them or opens a further account.
    assert client.get("/join/")["Location"] == client.post("/join/", JOINING)["Location"] == "/account/"
    assert Account.objects.count() == 1
    assert services.recover(account.sign_in_name, recovery_code=codes[0], password=NEW)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"password": "elevenchars"}, "at least 12 characters"),
        ({"password": ""}, "at least twelve characters"),
        ({"keep": ""}, "Without keeping wears"),
        ({"consent_version": CONSENT_VERSION + 1}, "Read version"),
    ],
)
def test_what_is_wrong_with_joining_is_said_and_what_was_ticked_stays(client, changed, said):
    answer = client.post("/join/", {name: value for name, value in (JOINING | changed).items() if value})
    assert answer.status_code == 422
    assert said in words(answer)
    assert PASSWORD not in answer.content.decode()
    assert re.search(r'name="pool"[^>]* checked', answer.content.decode())
    assert not Account.objects.exists()


def test_each_switch_is_ones_own_to_turn(client):
    client.post("/join/", {name: value for name, value in JOINING.items() if name != "pool"})
    account = Account.objects.get()
    assert [has_consented(account, scope) for scope in ("keep", "pool")] == [True, False]


def test_signing_in_leads_where_one_wanted_to_go_and_nowhere_else(client, stranger):
    asked = client.get("/account/data/")
    assert asked["Location"] == "/sign-in/?next=/account/data/"
    assert enter(client, stranger, next="/account/data/")["Location"] == "/account/data/"
    client.post("/sign-out/")
    assert enter(client, stranger, next="https://elsewhere.example/")["Location"] == "/wears/"


@pytest.mark.parametrize("wrong", ["name", "password"])
def test_a_wrong_name_and_a_wrong_password_get_one_answer(client, stranger, wrong):
    told = {"sign_in_name": "no-such-12345"} if wrong == "name" else {"password": "not the password at all"}
    answer = enter(client, stranger, **told)
    assert answer.status_code == 422
    assert services.WRONG_SIGN_IN in words(answer)
    assert not WebSession.objects.exists()


def test_too_many_tries_are_told_to_wait(client, stranger, monkeypatch):
    monkeypatch.setitem(throttles.MOST_TRIES_PER_HOUR, "sign-in name", 1)
    enter(client, stranger, password="not the password at all")
    assert "wait a while" in words(enter(client, stranger))


@pytest.mark.parametrize("path", ["/sign-in/", "/recover/", "/api/v1/tokens/", "/api/v1/tokens/recovery/"])
def test_one_address_is_told_to_wait_whatever_names_it_tries(client, monkeypatch, path):
    monkeypatch.setitem(throttles.MOST_TRIES_PER_HOUR, "sign-in", 1)
    told = {"password": NEW} | ({"recovery_code": "aaaa-bbbb-cccc-dddd"} if "recover" in path else {})

    def tried(name, address):
        sent = {"content_type": "application/json"} if path.startswith("/api/") else {}
        return client.post(path, told | {"sign_in_name": name}, REMOTE_ADDR=address, **sent)

    told_to_wait = ["ait a while" in words(tried(f"quiet-otter-1111{n}", f"192.0.2.{n // 2}")) for n in range(4)]
    assert told_to_wait == [False, True, False, True]


@pytest.mark.parametrize("password", [f"  {NEW}  ", "Four ORDINARY words", "x" * 30 + "abcdefgh" * 10])
def test_a_password_is_taken_as_it_was_typed_on_pages_and_by_the_api(client, password):
    client.post("/join/", JOINING | {"password": password})
    told = {"sign_in_name": Account.objects.get().sign_in_name, "password": password}
    others = (password.strip(), password.lower(), password[:72], password[:-1])
    for one, let_in in ((password, True), *((other, False) for other in others if other != password)):
        answer = Client().post("/api/v1/tokens/", told | {"password": one}, content_type="application/json")
        assert (answer.status_code == 201) is let_in


@pytest.mark.parametrize("path", ["/join/", "/sign-in/", "/recover/", "/account/password/"])
def test_passwords_are_masked_and_may_come_from_a_keeper_of_passwords(browser_of, client, new_member, path):
    page = (browser_of(new_member()) if path.startswith("/account/") else client).get(path).content.decode()
    fields = re.findall(r'<input[^>]* name="(?:present_)?password"[^>]*>', page)
    assert fields
    for field in fields:
        assert 'type="password"' in field
        assert re.search('autocomplete="(current|new)-password"', field)
        assert "onpaste" not in page


def test_a_second_factor_is_asked_for(client, stranger, monkeypatch):
    monkeypatch.setattr(time, "time", lambda: 1_900_000_000)
    secret = second_factor.begin(stranger.account).secret
    second_factor.confirm(stranger.account, one_time_code=second_factor.code_at(secret, 1_900_000_000 - 30))
    assert "six digits that your authenticator app shows" in words(enter(client, stranger))
    code = second_factor.code_at(secret, 1_900_000_000)
    assert enter(client, stranger, one_time_code=code).status_code == 302
    assert enter(Client(), stranger, one_time_code=code).status_code == 422


def test_a_recovery_code_sets_a_new_password_and_signs_in(client, stranger):
    told = {"sign_in_name": stranger.sign_in_name, "recovery_code": stranger.recovery_codes[0], "password": NEW}
    assert client.post("/recover/", told)["Location"] == "/wears/"
    assert "strike it out" in words(client.get("/wears/"))
    again = Client().post("/recover/", told)
    assert (again.status_code, "is wrong" in words(again)) == (422, True)
    assert enter(Client(), stranger, password=NEW).status_code == 302


def test_signing_out_ends_the_session(client, stranger):
    enter(client, stranger)
    assert "Sign out" in words(client.get("/"))
    client.post("/sign-out/")
    assert not WebSession.objects.exists()
    assert client.get("/account/")["Location"].startswith("/sign-in/")
    assert client.get("/sign-out/").status_code == 405


def test_signing_in_takes_another_session_than_the_one_before(client, stranger):
    client.force_login(stranger.account)
    before = client.session.session_key
    enter(client, stranger)
    assert client.session.session_key != before
    assert not WebSession.objects.filter(session_key=before).exists()


def test_a_text_that_has_changed_is_shown_on_entering(client, stranger, monkeypatch):
    monkeypatch.setattr("server.accounts.selectors.CONSENT_VERSION", CONSENT_VERSION + 1)
    assert enter(client, stranger)["Location"] == "/account/agreed/"
    assert "on under older words" in words(client.get("/account/agreed/"))


def test_cookies_are_for_this_site_and_out_of_reach_of_scripts(client, stranger, settings):
    client.get("/sign-in/")
    client.post("/unit/", {"unit": "mmol/L"})
    client.post("/language/", {"language": "de"})
    enter(client, stranger)
    names = ("SESSION", "CSRF", "UNIT", "LANGUAGE")
    for name in (getattr(settings, f"{name}_COOKIE_NAME") for name in names):
        assert client.cookies[name]["httponly"]
        assert client.cookies[name]["samesite"] == "Lax"
        assert client.cookies[name]["path"] == "/"
        assert bool(client.cookies[name]["secure"]) is settings.PUBLIC
    assert client.cookies[settings.SESSION_COOKIE_NAME]["max-age"] <= settings.SESSION_COOKIE_AGE


def test_a_session_ends_unused_and_after_its_longest_time_however_used(client, stranger, settings, monkeypatch):
    began, now = int(time.time()), timezone.now()
    enter(client, stranger)
    hour = clock.hour()
    for n_hours in range(0, settings.SESSION_LONGEST_S // 3600 - 1, 11):
        moment = began + n_hours * 3600
        monkeypatch.setattr(time, "time", lambda moment=moment: moment)
        monkeypatch.setattr("django.utils.timezone.now", lambda n=n_hours: now + timedelta(hours=n))
        assert client.get("/account/").status_code == 200
    assert client.session[sessions.BEGAN_HOUR] == hour
    monkeypatch.setattr("django.utils.timezone.now", lambda: now + timedelta(days=7))
    assert client.get("/account/").status_code == 302


def test_unused_it_ends_after_twelve_hours(client, stranger, monkeypatch):
    enter(client, stranger)
    later = timezone.now() + timedelta(hours=12, minutes=1)
    monkeypatch.setattr("django.utils.timezone.now", lambda: later)
    assert client.get("/account/").status_code == 302


def test_forms_come_from_this_site(stranger):
    guarded = Client(enforce_csrf_checks=True)
    for path in ("/join/", "/sign-in/", "/recover/", "/sign-out/"):
        answer = guarded.post(path, {})
        assert (answer.status_code, "Go back, load the page again" in words(answer)) == (403, True)


@pytest.mark.parametrize("path", ["/join/", "/sign-in/", "/recover/"])
def test_form_pages_ask_the_database_little(client, path, django_assert_max_num_queries):
    with django_assert_max_num_queries(5):
        assert client.get(path).status_code == 200
