"""Requests that may be sent again: the same key gives the same answer, and the work is done once.

Work and answer are written in one transaction, so a request cut off half-way has left nothing and may be repeated.
"""

import hashlib
from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.db import transaction

from server.core import clock, keys, locks
from server.core.errors import Conflict, Invalid
from server.core.models import IdempotencyKey

LONGEST_KEY = 128
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
    mark = keys.mac("idempotency key", account_id.bytes + key.encode()).hex()
    with locks.held(f"idempotency {mark}") as mine:
        if not mine:
            raise InFlight("Wait for its answer, or send the same request again in a moment.")
        with transaction.atomic():
            return _answered(mark, body) or _act(mark, account_id, body, act)


def _answered(mark: str, body: bytes) -> Answer | None:
    known = IdempotencyKey.objects.filter(mark=mark).first()
    if known is None:
        return None
    if known.body_digest != _digest(body):
        raise KeyUsedOtherwise("Use a new key for a new request.")
    return known.status, known.body


def _act(mark: str, account_id: UUID, body: bytes, act: Callable[[], Answer]) -> Answer:
    status, answer = act()
    IdempotencyKey.objects.create(
        mark=mark,
        account_id=account_id,
        body_digest=_digest(body),
        status=status,
        body=answer,
        answered_on=clock.today(),
    )
    return status, answer


def _digest(body: bytes) -> str:
    """Keyed: a plain digest would let a reader of the database test guesses of a record."""
    return keys.mac("idempotency body", hashlib.sha256(body).digest()).hex()


def forget_answers(account_id: UUID) -> None:
    """Drop every kept answer of an account: with a wear that is erased, or with the account."""
    IdempotencyKey.objects.filter(account_id=account_id).delete()
