import pytest
from django.db import IntegrityError, transaction

from server.accounts.models import Account, Consent, Wearer
from server.core import clock as clocks

pytestmark = pytest.mark.django_db


def test_an_account_keeps_no_address_and_no_time():
    names = {field.name for field in Account._meta.concrete_fields}
    assert names == {"id", "sign_in_name", "password", "joined_on", "pseudonym", "is_active"}


@pytest.mark.parametrize("odd", [{"relation": "cat"}, {"age_class": "old"}])
def test_the_database_knows_the_words_for_wearers(stranger, odd):
    with pytest.raises(IntegrityError), transaction.atomic():
        Wearer.objects.create(account=stranger.account, **({"relation": "self", "age_class": "adult"} | odd))


def test_two_consents_of_an_account_never_share_a_number(stranger):
    row = {"pseudonym": stranger.account.pseudonym, "text_version": 1, "given": True, "on": clocks.today()}
    with pytest.raises(IntegrityError), transaction.atomic():
        Consent.objects.create(number=1, scope="pool", **row)


@pytest.mark.parametrize(
    "odd", [{"age_class": "child"}, {"age_class": "adult", "of_age_month": "2040-01-01"}], ids=["child", "adult"]
)
def test_the_database_knows_that_children_and_no_others_come_of_age(stranger, odd):
    with pytest.raises(IntegrityError), transaction.atomic():
        Wearer.objects.create(account=stranger.account, relation="other", **odd)


def test_nothing_prints_a_name_or_a_secret(stranger):
    shown = " ".join(
        map(str, [stranger.account, *stranger.account.tokens.all(), *stranger.account.recovery_codes.all()])
    )
    assert stranger.sign_in_name not in shown
    assert not any(token.digest in shown for token in stranger.account.tokens.all())
