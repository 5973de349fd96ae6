"""Costly work: one piece of an account at a time in a process, and in half of its room at most.

So nobody takes all the room alone, and pages are answered while files are read.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock
from uuid import UUID

from django.conf import settings

from server.core.errors import TooMany

RETRY_AFTER_S = 5
_lock = Lock()
_at_work: set[UUID] = set()


@contextmanager
def one_at_a_time(account_id: UUID) -> Iterator[None]:
    """Do something for an account; while there is no room for it, it is told to come back."""
    with _lock:
        if account_id in _at_work or len(_at_work) >= max(1, settings.MOST_REQUESTS // 2):
            raise TooMany(
                "Other files are being read. Wait a moment, then send these again.", retry_after_s=RETRY_AFTER_S
            )
        _at_work.add(account_id)
    try:
        yield
    finally:
        with _lock:
            _at_work.discard(account_id)
