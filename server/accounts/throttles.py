"""How often an address or a name may try within an hour.

What is counted is a keyed mark of the hour and the value together: it cannot be turned back into an address, cannot be
linked from one hour to the next, and is dropped when its hour is over.
"""

import logging
import time

from django.conf import settings
from django.db.models import F

from server.accounts.models import Attempt
from server.core import clock, keys
from server.core.errors import TooMany

MOST_TRIES_PER_HOUR = {
    "join": 20,
    "sign-in": 60,
    "sign-in name": 20,
    "recovery name": 10,
    "one-time code": 6,
    "preview": 120,
    "typed pairs": 240,
    "odds": 120,
    "proposal": 10,
    "neighbour": 30,
    "group": 5,
}
BY_ADDRESS = frozenset({"join", "sign-in", "typed pairs"})
HOUR_S = 3600
log = logging.getLogger(__name__)


def count_try(purpose: str, value: str | None) -> None:
    """Count one try; refuse it when the hour has had its number. No value, nothing to count."""
    if value is None or (purpose in BY_ADDRESS and settings.DEMO):
        return  # everybody in the invented scenario comes from one address
    hour = clock.hour()
    mark = _mark(purpose, value, hour)
    Attempt.objects.get_or_create(mark=mark, defaults={"hour": hour})
    counted = Attempt.objects.filter(mark=mark, n_tries__lt=MOST_TRIES_PER_HOUR[purpose])
    if not counted.update(n_tries=F("n_tries") + 1):
        log.warning("too many tries: %s", purpose)  # of whom is not known here either
        raise TooMany(retry_after_s=HOUR_S - int(time.time()) % HOUR_S)


def forget_tries(purpose: str, value: str) -> None:
    Attempt.objects.filter(mark=_mark(purpose, value, clock.hour())).delete()


def drop_past_tries() -> int:
    return Attempt.objects.filter(hour__lt=clock.hour()).delete()[0]


def _mark(purpose: str, value: str, hour: int) -> str:
    return keys.mac("tries", f"{hour}|{purpose}|{value}".encode()).hex()
