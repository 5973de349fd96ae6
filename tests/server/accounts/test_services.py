from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.contrib.auth.hashers import identify_hasher, make_password
from django.contrib.sessions.backends.base import SessionBase

from server.accounts import recovery, services, signals
from server.accounts.consents import CONSENT_VERSION
from server.accounts.models import (
    Account,
    Consent,
    Holding,
    PlaceLabel,
    RecoveryCode,
    RememberedMapping,
    Token,
    Wearer,
    WebSession,
)
from server.accounts.selectors import account_for_token, wearers_of
from server.core import clock as clocks
from server.core.errors import Conflict, Invalid, NotFound, Unauthorised
from server.core.idempotency import answer_once
from server.core.models import IdempotencyKey
from tests.server.records import A_CHILD

pytestmark = pytest.mark.django_db
PASSWORD = "four ordinary words here"
NEW_PASSWORD = "some other ordinary words"


def joining(**changed):
    return {"password": PASSWORD, "consent_version": CONSENT_VERSION, "scopes": {"keep": True, "pool": False}} | changed


def test_joining_makes_up_a_name_and_keeps_no_secret_in_clear():
    joined = services.join(**joining())
    account = Account.objects.get(sign_in_name=joined.sign_in_name)
    stored = " ".join([account.password, *RecoveryCode.objects.values_list("digest", flat=True)])
    assert PASSWORD not in stored
    assert not any(code in stored for code in joined.recovery_codes)
    assert [(c.scope, c.given) for c in Consent.objects.order_by("number")] == [("keep", True), ("pool", False)]
    assert [(w.relation, w.age_class) for w in wearers_of(account)] == [("self", "adult")]


@pytest.mark.parametrize(
    ("changed", "pointer"),
    [
        ({"password": "elevenchars"}, "#/password"),
        ({"password": "1qaz2wsx3edc"}, "#/password"),
        ({"password": "123123123123"}, "#/password"),
        ({"consent_version": CONSENT_VERSION + 1}, "#/consent_version"),
        ({"scopes": {"keep": False}}, "#/scopes/keep"),
        ({"scopes": {"keep": True, "sell": True}}, "#/scopes/sell"),
    ],
)
def test_joining_with_a_fault_points_at_it_and_stores_nothing(changed, pointer):
    with pytest.raises(Invalid) as refused:
        services.join(**joining(**changed))
    assert [fault["pointer"] for fault in refused.value.faults] == [pointer]
    assert not Account.objects.exists()


def test_a_password_needs_no_capitals_digits_or_signs():
    assert services.join(**joining(password="only lower letters")).recovery_codes


def test_passwords_are_hashed_with_argon2(settings):
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
    account = services.join(**joining()).account
    assert identify_hasher(account.password).algorithm == "argon2"


def test_signing_in_gives_a_token_of_which_only_a_digest_is_kept(new_member):
    member = new_member()
    assert account_for_token(member.token) == member.account
    assert not Token.objects.filter(digest=member.token).exists()


@pytest.mark.parametrize("wrong", ["name", "password"])
def test_a_wrong_name_and_a_wrong_password_get_one_answer(new_member, wrong):
    member = new_member()
    name = "no-such-12345" if wrong == "name" else member.sign_in_name
    with pytest.raises(Unauthorised) as refused:
        services.sign_in(name, "not the password at all")
    assert refused.value.detail == services.WRONG_SIGN_IN


@pytest.mark.parametrize("known", [True, False])
def test_the_first_sign_in_of_a_process_hashes_as_often_whether_there_is_the_name(new_member, monkeypatch, known):
    name = new_member().sign_in_name if known else "no-such-12345"
    services._nobody.cache_clear()
    hashed = []
    monkeypatch.setattr(services, "make_password", lambda text: hashed.append(text) or make_password(text))
    with pytest.raises(Unauthorised):
        services.sign_in(name, "not the password at all")
    assert len(hashed) == 1


def test_a_token_ends_by_signing_out_and_by_its_day(new_member, clock):
    member = new_member()
    services.sign_out(member.token)
    assert account_for_token(member.token) is None
    token = services.sign_in(member.sign_in_name, PASSWORD)
    clock.set(clocks.today() + timedelta(days=services.TOKEN_DAYS))
    assert account_for_token(token) == member.account
    clock.set(clocks.today() + timedelta(days=1))
    assert account_for_token(token) is None
    assert services.drop_expired_tokens(clocks.today()) == 1


def test_a_recovery_code_sets_a_password_once_and_ends_every_sign_in(new_member, client):
    member = new_member()
    client.force_login(member.account)
    assert WebSession.objects.filter(account_id=member.account.pk).exists()
    code = member.recovery_codes[0]
    token = services.recover(member.sign_in_name, recovery_code=code.upper(), password=NEW_PASSWORD)
    assert account_for_token(token) == member.account
    assert account_for_token(member.token) is None
    assert not WebSession.objects.exists()
    assert services.sign_in(member.sign_in_name, NEW_PASSWORD)
    with pytest.raises(Unauthorised):
        services.recover(member.sign_in_name, recovery_code=code, password=PASSWORD)


def test_a_recovery_code_opens_its_own_account_only(new_member):
    one, other = new_member(), new_member()
    with pytest.raises(Unauthorised):
        services.recover(other.sign_in_name, recovery_code=one.recovery_codes[0], password=NEW_PASSWORD)
    assert one.account.recovery_codes.count() == recovery.N_CODES


def test_a_refused_new_password_uses_no_code_up(new_member):
    member = new_member()
    with pytest.raises(Invalid):
        services.recover(member.sign_in_name, recovery_code=member.recovery_codes[0], password="short")
    assert member.account.recovery_codes.count() == recovery.N_CODES


def test_consents_are_added_and_never_changed(stranger):
    services.record_consent(stranger.account, scope="pool", given=False, text_version=CONSENT_VERSION)
    rows = Consent.objects.filter(pseudonym=stranger.account.pseudonym).order_by("number")
    assert [(row.number, row.scope, row.given) for row in rows] == [
        (1, "keep", True),
        (2, "pool", True),
        (3, "pool", False),
    ]


@pytest.mark.parametrize(("scope", "version"), [("sell", CONSENT_VERSION), ("pool", CONSENT_VERSION + 1)])
def test_consent_to_what_is_not_there_is_refused(stranger, scope, version):
    with pytest.raises(Invalid):
        services.record_consent(stranger.account, scope=scope, given=True, text_version=version)
    assert Consent.objects.filter(pseudonym=stranger.account.pseudonym).count() == 2


def test_a_child_is_kept_as_a_wearer_and_odd_words_are_refused(stranger):
    child = services.add_wearer(stranger.account, **A_CHILD)
    assert child in wearers_of(stranger.account)
    for odd in (
        {"relation": "pet", "age_class": "adult"},
        {"relation": "other", "age_class": "dog"},
        {"relation": "other", "age_class": "adult", "guardian": True},
        A_CHILD | {"relation": "self"},
        A_CHILD | {"guardian": False},
        A_CHILD | {"of_age_month": None},
        A_CHILD | {"of_age_month": clocks.today()},
        A_CHILD | {"of_age_month": date(2099, 1, 1)},
    ):
        with pytest.raises(Invalid):
            services.add_wearer(stranger.account, **odd)


def test_closing_erases_everything_of_the_account_and_nothing_of_others(new_member, client):
    leaving, staying = new_member(), new_member()
    client.force_login(leaving.account)
    for member in (leaving, staying):
        wearer = wearers_of(member.account)[0]
        Holding.objects.create(wear_id=uuid4(), account=member.account, wearer=wearer)
        services.link_labels([(uuid4(), member.account.pk, wearer.pk)])
        answer_once("a key", account_id=member.account.pk, body=b"", act=lambda: (201, {}))
    services.close_account(leaving.account)
    for model in (RecoveryCode, Token, Wearer, Holding, PlaceLabel):
        assert set(model.objects.values_list("account", flat=True)) == {staying.account.pk}
    assert IdempotencyKey.objects.count() == 1
    assert answer_once("a key", account_id=staying.account.pk, body=b"", act=lambda: (500, {})) == (201, {})
    assert not WebSession.objects.exists()
    with pytest.raises(NotFound):
        services.close_account(leaving.account)


def test_those_above_are_told_while_the_links_are_still_there(stranger):
    wearer = wearers_of(stranger.account)[0]
    Holding.objects.create(wear_id=uuid4(), account=stranger.account, wearer=wearer)
    seen = []

    def note(account, **_):
        seen.append(account.holdings.count())

    signals.account_closing.connect(note)
    try:
        services.close_account(stranger.account)
    finally:
        signals.account_closing.disconnect(note)
    assert seen == [1]


@pytest.mark.django_db(transaction=True)
def test_when_one_of_them_fails_nothing_is_erased(stranger):
    def fail(account, **_):
        raise ZeroDivisionError

    signals.account_closing.connect(fail)
    try:
        with pytest.raises(ZeroDivisionError):
            services.close_account(stranger.account)
    finally:
        signals.account_closing.disconnect(fail)
    assert account_for_token(stranger.token) == stranger.account


def test_sessions_past_their_day_are_dropped(client, stranger):
    client.force_login(stranger.account)
    services.drop_expired_sessions()
    session = WebSession.objects.get()
    session.expire_date -= timedelta(days=60)
    session.save()
    services.drop_expired_sessions()
    assert not WebSession.objects.exists()
    assert issubclass(session.get_session_store_class(), SessionBase)


def test_where_only_adults_may_take_part_nobody_keeps_a_child(settings):
    settings.OPERATOR = settings.OPERATOR | {"minors": "adults-only"}
    account = services.join(**joining()).account
    with pytest.raises(Invalid) as refused:
        services.add_wearer(account, **A_CHILD)
    assert [fault["pointer"] for fault in refused.value.faults] == ["#/age_class"]
    assert services.add_wearer(account, relation="other", age_class="adult").age_class == "adult"


def test_a_layout_has_one_mapping_which_is_replaced_and_goes_with_the_account(stranger):
    mapping = {
        "kind": "meter",
        "header_line": 1,
        "roles": ["moment", "glucose"],
        "glucose_unit": "mg/dL",
        "date_order": None,
        "decimal": ".",
        "time_zone": None,
        "header_hash_input": ["when", "value"],
    }
    first = services.remember_mapping(stranger.account, mapping)
    again = services.remember_mapping(stranger.account, mapping | {"date_order": "day_first", "header_line": 7})
    assert (again.pk, again.content["date_order"]) == (first.pk, "day_first")
    services.close_account(stranger.account)
    assert not RememberedMapping.objects.exists()


def test_an_account_keeps_wears_for_so_many_people(stranger, monkeypatch):
    monkeypatch.setattr(services, "MOST_WEARERS", 2)
    services.add_wearer(stranger.account, relation="other", age_class="adult")
    with pytest.raises(Conflict):
        services.add_wearer(stranger.account, relation="other", age_class="adult")
