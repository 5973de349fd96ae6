"""Requests that may be sent again: the same key gives the same answer, and the work is done once.

Work and answer are written in one transaction, so a request cut off half-way has left nothing and may be repeated. A
kept answer names nobody: keyed marks find it, and it can be read only with the key that the request brings along.
"""

import hashlib
import json
from collections.abc import Callable
from datetime import date
from typing import Any, NamedTuple
from uuid import UUID

from django.db import transaction

from server.core import clock, keys, locks
from server.core.errors import Conflict, Invalid
from server.core.models import IdempotencyKey

LONGEST_KEY = 128
BY_KEY, BY_ACCOUNT, BY_BODY = "idempotency key", "idempotency account", "idempotency body"
ANSWER = "idempotency answer"
Answer = tuple[int, dict[str, Any]]


class KeyUsedOtherwise(Invalid):
    code = "key-used-otherwise"
    title = "This key was used for another body"


class InFlight(Conflict):
    code = "in-flight"
    title = "The first request with this key is still at work"


def answer_once(key: str, *, account_id: UUID, body: bytes, act: Callable[[], Answer]) -> Answer:
    """Give the answer that this key got before, or act and keep the answer for a day.

    `act` returns the status and the JSON body. What it raises is not kept: the request may then be mended and sent
    again under the same key.
    """
    if not key or len(key) > LONGEST_KEY:
        message = f"Send a header Idempotency-Key of 1 to {LONGEST_KEY} characters, a new one for each new request."
        raise Invalid(message)
    request = _Request(account_id.bytes, account_id.bytes + key.encode(), hashlib.sha256(body).digest())
    with locks.held(f"idempotency {keys.written_marks(BY_KEY, request.word)[0]}") as mine:
        if not mine:
            raise InFlight("Wait for its answer, or send the same request again in a moment.")
        with transaction.atomic():
            return _answered(request) or _act(request, act)


class _Request(NamedTuple):
    account: bytes
    word: bytes  # the key it came with, of this account alone
    body: bytes

    def __repr__(self) -> str:
        return "a request"


def _answered(request: _Request) -> Answer | None:
    known = IdempotencyKey.objects.filter(mark__in=keys.written_marks(BY_KEY, request.word)).first()
    if known is None:
        return None
    if known.body_digest not in keys.written_marks(BY_BODY, request.body):
        raise KeyUsedOtherwise("Use a new key for a new request.")
    status, answer = json.loads(keys.decrypt(ANSWER, bytes(known.answer), about=b"", word=request.word))
    return status, answer


def _act(request: _Request, act: Callable[[], Answer]) -> Answer:
    answer = act()
    IdempotencyKey.objects.create(
        mark=keys.written_marks(BY_KEY, request.word)[-1],
        account_mark=keys.written_marks(BY_ACCOUNT, request.account)[-1],
        # Keyed: a plain digest would let a reader of the database test guesses of a record.
        body_digest=keys.written_marks(BY_BODY, request.body)[-1],
        key_version=keys.key_version(),
        answer=keys.encrypt(ANSWER, json.dumps(answer).encode(), about=b"", word=request.word),
        answered_on=clock.today(),
    )
    return answer


def answers_kept(account_id: UUID) -> list[date]:
    """On which days answers were given that are still kept for a repetition; what they say nobody can read."""
    marks = keys.written_marks(BY_ACCOUNT, account_id.bytes)
    return sorted(IdempotencyKey.objects.filter(account_mark__in=marks).values_list("answered_on", flat=True))


def forget_answers(account_id: UUID) -> None:
    """Drop every kept answer of an account: with a wear that is erased, or with the account."""
    IdempotencyKey.objects.filter(account_mark__in=keys.written_marks(BY_ACCOUNT, account_id.bytes)).delete()
