"""Requests that may be sent again: the same key gives the same answer, and the work is done once.

Work and answer are written in one transaction, so a request cut off half-way has left nothing and may be repeated. A
kept answer names nobody: keyed marks find it, and it can be read only with the key that the request brings along.
"""

import hashlib
import json
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import date
from typing import Any, Final
from uuid import UUID

from server.core import clock, keys, locks
from server.core.asking import Asked
from server.core.errors import Conflict, Invalid
from server.core.models import IdempotencyKey
from server.core.stored import write_together

LONGEST_KEY = 128
BY_KEY, BY_ACCOUNT, BY_BODY = "idempotency key", "idempotency account", "idempotency body"
ANSWER = "idempotency answer"
Answer = tuple[int, dict[str, Any]]
_KEPT: Final = Asked(lambda *marks: IdempotencyKey.objects.filter(mark__in=marks))


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
    with answering([key], account_id=account_id) as answers:
        return answers.given(key, body) or answers.keep(key, body, act())


@contextmanager
def answering(sent: Iterable[str], *, account_id: UUID) -> Iterator["Answers"]:
    """A transaction in which requests with these keys are answered, and their answers kept with what else it writes."""
    requests = {key: _Request(key, account_id) for key in sent}
    with locks.transaction_holding(request.name for request in requests.values()) as held:
        answers = Answers(requests, held)
        yield answers
        answers.write()


class _Request:
    """A key of one account, as it is looked for."""

    def __init__(self, key: str, account_id: UUID) -> None:
        if not key or len(key) > LONGEST_KEY:
            message = f"Send a header Idempotency-Key of 1 to {LONGEST_KEY} characters, a new one for each new request."
            raise Invalid(message)
        self.account = account_id.bytes
        self.word = account_id.bytes + key.encode()
        self.marks = keys.written_marks(BY_KEY, self.word)
        self.name = f"idempotency {self.marks[0]}"


class Answers:
    """What was answered to requests with these keys before, and what is answered now."""

    def __init__(self, requests: Mapping[str, _Request], held: Collection[str]) -> None:
        self._requests = requests
        self._held = held
        marks = [mark for request in requests.values() for mark in request.marks if request.name in held]
        self._kept = {row.mark: row for row in _KEPT(*marks)} if marks else {}
        self._new: list[IdempotencyKey] = []
        self._today = clock.today()

    def given(self, key: str, body: bytes) -> Answer | None:
        """The answer that this key got before to this body, None if it is new; another body is refused."""
        request = self._requests[key]
        if request.name not in self._held:
            raise InFlight("Wait for its answer, or send the same request again in a moment.")
        kept = next((self._kept[mark] for mark in request.marks if mark in self._kept), None)
        if kept is None:
            return None
        if kept.body_digest not in _marks_of(body):
            raise KeyUsedOtherwise("Use a new key for a new request.")
        status, answer = json.loads(keys.decrypt(ANSWER, bytes(kept.answer), about=b"", word=request.word))
        return status, answer

    def keep(self, key: str, body: bytes, answer: Answer) -> Answer:
        """Keep what a new request was answered."""
        request = self._requests[key]
        row = IdempotencyKey(
            mark=request.marks[-1],
            account_mark=keys.written_marks(BY_ACCOUNT, request.account)[-1],
            body_digest=_marks_of(body)[-1],
            key_version=keys.key_version(),
            answer=keys.encrypt(ANSWER, json.dumps(answer).encode(), about=b"", word=request.word),
            answered_on=self._today,
        )
        self._kept[row.mark] = row
        self._new.append(row)
        return answer

    def write(self) -> None:
        write_together(self._new)


def _marks_of(body: bytes) -> list[str]:
    """Keyed: a plain digest would let a reader of the database test guesses of a record."""
    return keys.written_marks(BY_BODY, hashlib.sha256(body).digest())


def answers_kept(account_id: UUID) -> list[date]:
    """On which days answers were given that are still kept for a repetition; what they say nobody can read."""
    marks = keys.written_marks(BY_ACCOUNT, account_id.bytes)
    return sorted(IdempotencyKey.objects.filter(account_mark__in=marks).values_list("answered_on", flat=True))


def forget_answers(account_id: UUID) -> None:
    """Drop every kept answer of an account: with a wear that is erased, or with the account."""
    IdempotencyKey.objects.filter(account_mark__in=keys.written_marks(BY_ACCOUNT, account_id.bytes)).delete()
