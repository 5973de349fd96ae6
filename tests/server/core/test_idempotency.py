"""What a repeated request may expect: the draft standard of the Idempotency-Key header (IETF HTTPAPI), from memory."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from uuid import uuid4

import pytest
from cryptography.exceptions import InvalidTag
from django.db import connection

from server.core import idempotency, keys, locks
from server.core.errors import Invalid
from server.core.models import IdempotencyKey

ACCOUNT = uuid4()


@pytest.fixture
def act():
    """An action that counts how often it was done."""

    def action():
        action.n_done += 1
        return 201, {"number": action.n_done}

    action.n_done = 0
    return action


def answer(act, key="k1", body=b"body", account=ACCOUNT):
    return idempotency.answer_once(key, account_id=account, body=body, act=act)


@pytest.mark.django_db
def test_the_same_request_gets_the_same_answer_and_is_done_once(act):
    assert answer(act) == answer(act) == (201, {"number": 1})
    assert act.n_done == 1


@pytest.mark.django_db
def test_another_key_or_another_account_is_another_request(act):
    answer(act)
    assert answer(act, key="k2")[1] == {"number": 2}
    assert answer(act, account=uuid4())[1] == {"number": 3}


@pytest.mark.django_db
def test_the_same_key_for_another_body_is_refused(act):
    answer(act)
    with pytest.raises(idempotency.KeyUsedOtherwise) as refused:
        answer(act, body=b"other")
    assert refused.value.status == 422
    assert act.n_done == 1


def beside(work):
    """What the work does on a connection of its own, as another request would."""

    def alone():
        try:
            return work()
        finally:
            connection.close()

    with ThreadPoolExecutor(1) as other:
        return other.submit(alone).result()


@pytest.mark.django_db(transaction=True)
def test_a_request_still_at_work_is_not_started_twice(act):
    def meanwhile():
        with pytest.raises(idempotency.InFlight) as refused:
            beside(lambda: answer(act))
        return refused.value.status, {}

    assert answer(meanwhile) == (409, {})
    assert act.n_done == 0


@pytest.mark.django_db(transaction=True)
def test_of_many_requests_only_those_still_at_work_elsewhere_are_put_off(act):
    def others():
        with idempotency.answering(["k1", "k2"], account_id=ACCOUNT) as answers:
            with pytest.raises(idempotency.InFlight):
                answers.given("k1", b"body")
            return answers.given("k2", b"body") or answers.keep("k2", b"body", act())

    with idempotency.answering(["k1"], account_id=ACCOUNT) as answers:
        answers.keep("k1", b"body", (200, {}))
        if connection.vendor == "postgresql":  # SQLite has one writer: the other would wait for this block to end
            assert beside(others) == (201, {"number": 1})
    assert answer(act, key="k1") == (200, {})


@pytest.mark.django_db
def test_a_request_that_failed_may_be_sent_again(act):
    def fail():
        raise Invalid("The body has faults.")

    with pytest.raises(Invalid):
        answer(fail)
    assert answer(act, body=b"mended") == (201, {"number": 1})


@pytest.mark.django_db
@pytest.mark.parametrize("key", ["", "k" * 129])
def test_a_key_has_a_length(act, key):
    with pytest.raises(Invalid, match="Idempotency-Key"):
        answer(act, key=key)


@pytest.mark.django_db
def test_neither_key_nor_body_is_stored_in_clear_and_answers_can_be_forgotten(act):
    answer(act, key="a telling key")
    row = IdempotencyKey.objects.get()
    kept = repr([getattr(row, field.name) for field in IdempotencyKey._meta.concrete_fields])
    assert not any(told in kept for told in ("telling", "number", "201", str(ACCOUNT), ACCOUNT.hex))
    idempotency.forget_answers(ACCOUNT)
    assert not IdempotencyKey.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_nothing_stays_held(act):
    answer(act)
    mark = IdempotencyKey.objects.get().mark
    with locks.held(f"idempotency {mark}") as free:
        assert free


@pytest.mark.django_db
def test_a_kept_answer_can_be_read_with_its_own_key_alone(act):
    answer(act)
    kept = bytes(IdempotencyKey.objects.get().answer)
    word = ACCOUNT.bytes + b"k1"
    assert keys.decrypt(idempotency.ANSWER, kept, about=b"", word=word) == b'[201, {"number": 1}]'
    with pytest.raises(InvalidTag):
        keys.decrypt(idempotency.ANSWER, kept, about=b"", word=ACCOUNT.bytes + b"k2")


@pytest.mark.django_db
def test_an_answer_kept_under_an_older_key_is_given_again(act, settings):
    answer(act)
    settings.KEYS = replace(settings.KEYS, mac_keys=(*settings.KEYS.mac_keys, "a7" * 32))
    assert answer(act) == (201, {"number": 1})
    assert act.n_done == 1
