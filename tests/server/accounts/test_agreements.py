"""Consents: chained, never changed, asked again when the text changes, and each switch does what its text says."""

from datetime import date

import pytest
from django.db.models import QuerySet

from server.accounts import agreements, consents, selectors, services
from server.accounts.agreements import record_consent
from server.accounts.consents import CONSENT_VERSION
from server.accounts.models import Consent
from server.api import members
from server.core.errors import Conflict, Invalid
from server.wears.models import Wear, WearPairs, WearSummary
from server.wears.services import give_to_group
from server.wears.transitions import State
from tests.server.records import A_CHILD

pytestmark = pytest.mark.django_db


@pytest.fixture
def new_text(monkeypatch):
    """The text changes: whoever has agreed to the present one has to be asked again."""
    for module in (consents, agreements, selectors, services, members):
        monkeypatch.setattr(module, "CONSENT_VERSION", CONSENT_VERSION + 1)
    return CONSENT_VERSION + 1


def turn(member, scope, given, version=CONSENT_VERSION):
    return record_consent(member.account, scope=scope, given=given, text_version=version)


def record_of(member):
    return selectors.consents_of(member.account)


def change_second_entries(**values):
    """What somebody with the database could do past the services."""
    QuerySet.update(Consent.objects.filter(number=2), **values)


def test_each_entry_follows_from_the_one_before(stranger, contributor):
    turn(stranger, "pool", False)
    assert [entry.number for entry in record_of(stranger)] == [1, 2, 3]
    assert selectors.is_whole(record_of(stranger))
    assert selectors.is_whole([])
    assert selectors.broken_records() == []
    # A hash worked out here once, from the rule in words: SHA-256 over sorted, compact JSON.
    first = record_of(stranger)[0]
    assert first.chain_hash == selectors.chained("0" * 64, first)
    assert len({entry.chain_hash for entry in Consent.objects.all()}) == Consent.objects.count()


@pytest.mark.parametrize(
    "change",
    [{"given": False}, {"scope": "keep"}, {"text_version": 7}, {"on": date(2020, 1, 1)}, {"number": 9}],
    ids=lambda change: next(iter(change)),
)
def test_a_changed_entry_breaks_the_record_and_no_other(stranger, change):
    turn(stranger, "keep", True)
    change_second_entries(**change)
    assert not selectors.is_whole(record_of(stranger))
    assert stranger.account.pseudonym in selectors.broken_records()


def test_an_entry_left_out_breaks_the_record(stranger, contributor):
    turn(stranger, "pool", False)
    Consent.objects.filter(pseudonym=stranger.account.pseudonym, number=2).forget()
    assert selectors.broken_records() == [stranger.account.pseudonym]


def test_the_record_holds_no_value_and_outlives_the_account_without_a_name(stranger, clock):
    pseudonym = stranger.account.pseudonym
    services.close_account(stranger.account)
    record = list(Consent.objects.filter(pseudonym=pseudonym).order_by("number"))
    assert [(entry.scope, entry.given) for entry in record] == [
        ("keep", True),
        ("pool", True),
        ("keep", False),
        ("pool", False),
    ]
    assert selectors.is_whole(record)
    assert agreements.drop_ended_records(date(2033, 3, 1)) == 0
    assert agreements.drop_ended_records(date(2033, 4, 1)) == 4


def test_records_of_open_accounts_are_kept_however_old(stranger):
    assert agreements.drop_ended_records(date(2061, 1, 1)) == 0
    assert len(record_of(stranger)) == 2


def test_with_a_new_text_nothing_new_is_done_until_it_is_agreed_to(upload, contributor, group, new_text):
    assert selectors.consents_due(contributor.account) == ["keep", "pool"]
    with pytest.raises(Conflict, match=f"Read version {new_text}"):
        upload(contributor)
    turn(contributor, "keep", True, version=new_text)
    wear = upload(contributor)
    with pytest.raises(Conflict, match="turn on the switch pool again"):
        give_to_group(wear.id, account=contributor.account, group=group)
    turn(contributor, "pool", True, version=new_text)
    assert give_to_group(wear.id, account=contributor.account, group=group).state == State.QUEUED
    assert selectors.consents_due(contributor.account) == []


def test_under_a_new_text_a_switch_is_turned_off_as_before_and_turned_on_by_the_new_one_alone(stranger, new_text):
    turn(stranger, "pool", False, version=CONSENT_VERSION)
    assert selectors.consents_due(stranger.account) == ["keep"]
    with pytest.raises(Invalid):
        turn(stranger, "pool", True, version=CONSENT_VERSION)
    with pytest.raises(Invalid):
        turn(stranger, "pool", False, version=new_text + 1)


def test_signing_in_says_what_is_due(api, stranger, new_text):
    body = {"sign_in_name": stranger.sign_in_name, "password": stranger.password}
    assert api.post("/api/v1/tokens/", body).json()["consents_due"] == ["keep", "pool"]
    turn(stranger, "keep", True, version=new_text)
    assert api.post("/api/v1/tokens/", body).json()["consents_due"] == ["pool"]
    shown = stranger.api.get("/api/v1/me/consents/").json()
    assert (shown["due"], shown["whole"]) == (["pool"], True)
    assert shown["given"][-1]["chain_hash"] == record_of(stranger)[-1].chain_hash


def test_turning_keep_off_erases_every_wear_and_it_may_be_turned_on_again(give, upload, contributor, stranger):
    give(contributor)
    upload(contributor, seed=2)
    others = upload(stranger, seed=3)
    turn(contributor, "keep", False)
    assert list(Wear.objects.values_list("id", flat=True)) == [others.id]
    assert (WearPairs.objects.count(), WearSummary.objects.count()) == (1, 1)
    assert selectors.wears_held_by(contributor.account) == []
    with pytest.raises(Conflict, match="switch keep first"):
        upload(contributor)
    turn(contributor, "keep", True)
    assert upload(contributor)


def test_a_childs_wears_rest_on_the_guardians_word(upload, contributor, group):
    child = services.add_wearer(contributor.account, **A_CHILD)
    assert child.of_age_month == date(2040, 5, 1)
    assert record_of(contributor)[-1].scope == "guardian"
    own, childs = upload(contributor), upload(contributor, wearer=child, seed=2)
    turn(contributor, "guardian", False)
    assert list(Wear.objects.values_list("id", flat=True)) == [own.id] != [childs.id]
    with pytest.raises(Conflict, match="switch guardian first"):
        upload(contributor, wearer=child, seed=3)
    turn(contributor, "guardian", True)
    assert upload(contributor, wearer=child, seed=3)


def test_a_second_child_asks_for_no_second_entry(contributor):
    services.add_wearer(contributor.account, **A_CHILD)
    n_entries = len(record_of(contributor))
    services.add_wearer(contributor.account, **A_CHILD)
    assert len(record_of(contributor)) == n_entries


def test_who_has_come_of_age_decides_alone(upload, give, contributor, clock, group):
    child = services.add_wearer(contributor.account, **A_CHILD | {"of_age_month": date(2031, 5, 20)})
    waits, own = upload(contributor, wearer=child), give(contributor, seed=9)
    clock.set(date(2031, 4, 30))
    give_to_group(waits.id, account=contributor.account, group=group)
    assert selectors.unwilling([waits.id, own.id]) == []
    clock.set(date(2031, 5, 1))
    assert selectors.unwilling([waits.id, own.id]) == [waits.id]
    with pytest.raises(Conflict, match="come of age"):
        upload(contributor, wearer=child, seed=2)


@pytest.mark.parametrize("scope", ["pool", "guardian"])
def test_whose_switch_is_off_is_counted_no_more(upload, contributor, stranger, scope):
    child = services.add_wearer(contributor.account, **A_CHILD)
    childs, own, others = upload(contributor, wearer=child), upload(contributor, seed=2), upload(stranger, seed=3)
    every = [childs.id, own.id, others.id]
    assert selectors.unwilling(every) == []
    turn(contributor, scope, False)
    assert set(selectors.unwilling(every)) == ({childs.id, own.id} if scope == "pool" else set())
    assert Wear.objects.filter(pk=childs.id).exists() is (scope == "pool")
