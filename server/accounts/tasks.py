"""What the sweep does for accounts."""

from datetime import date

from server.accounts import services, throttles
from server.core import jobs


def drop_what_expired(today: date) -> None:
    services.drop_expired_tokens(today)
    services.drop_expired_sessions()
    throttles.drop_past_tries()


jobs.register_sweep("expired sign-ins dropped", drop_what_expired)
