from datetime import date
from uuid import uuid4

import pytest
from django.db import connection
from django.db.models import F
from django.test.utils import CaptureQueriesContext

from server.accounts.models import Account, Wearer
from server.core.asking import Asked
from server.core.models import IdempotencyKey

pytestmark = pytest.mark.django_db

OF_ACCOUNT = Asked(lambda account: Wearer.objects.filter(account=account).order_by("relation"))


def account_of(name, *relations):
    account = Account.objects.create(sign_in_name=name, joined_on=date(2031, 1, 5))
    for relation in relations:
        Wearer.objects.create(account=account, relation=relation, age_class="adult")
    return account


def test_it_answers_each_with_what_is_theirs_and_as_the_query_set_does():
    one, other, nobody = account_of("one", "self", "other"), account_of("other", "self"), uuid4()
    for account in (one.pk, other.pk, nobody, one.pk):
        expected = list(Wearer.objects.filter(account=account).order_by("relation"))
        found = OF_ACCOUNT(account)
        assert found == expected
        assert [vars(wearer) | {"_state": None} for wearer in found] == [
            vars(wearer) | {"_state": None} for wearer in expected
        ]
        assert OF_ACCOUNT.first(account) == next(iter(expected), None)


def test_an_object_that_it_found_can_be_changed_and_saved():
    account = account_of("one", "self")
    found = OF_ACCOUNT.first(account.pk)
    found.relation = "other"
    found.save()
    assert OF_ACCOUNT.first(account.pk).relation == "other"
    assert Wearer.objects.count() == 1


def test_named_columns_come_as_rows_and_what_is_added_stands_beside_the_object():
    account = account_of("one", "self")
    rows = Asked(lambda account: Wearer.objects.filter(account=account).values_list("account_id", "relation"))
    assert rows(account.pk) == [(account.pk, "self")]
    added = Asked(lambda account: Wearer.objects.filter(account=account).annotate(joined=F("account__joined_on")))
    assert [wearer.joined for wearer in added(account.pk)] == [date(2031, 1, 5)]


def test_any_number_of_texts_each_in_its_own_place():
    kept = Asked(lambda *marks: IdempotencyKey.objects.filter(mark__in=marks, key_version=1).values_list("mark"))
    for mark, version in (("a", 1), ("b", 1), ("%s", 1), ("c", 2)):
        IdempotencyKey.objects.create(
            mark=mark, account_mark="", body_digest="", key_version=version, answer=b"", answered_on=date(2031, 1, 5)
        )
    assert sorted(kept("a", "c", "'); --")) == [("a",)]
    assert sorted(kept("%s", "b", "a")) == [("%s",), ("a",), ("b",)]
    assert kept("c") == kept("d") == []


def test_it_is_put_into_words_once():
    questions = []

    def question(account):
        questions.append(account)
        return Wearer.objects.filter(account=account)

    asked = Asked(question)
    accounts = [account_of(name, "self").pk for name in "abc"]
    with CaptureQueriesContext(connection) as statements:
        assert [wearer.account_id for account in accounts for wearer in asked(account)] == accounts
    assert len(statements) == len(accounts)
    assert len(questions) == 1
    assert questions[0] not in accounts
