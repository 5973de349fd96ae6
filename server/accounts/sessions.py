"""Browser sessions in the database, each naming its account (settings.SESSION_ENGINE).

A sign-in ends when it has not been used for a while, and in any case so long after it began. Of when it was used the
session knows the hour alone, so that it is written at most once an hour.
"""

import time
from datetime import datetime, timedelta
from typing import Any, Final, cast

from django.conf import settings
from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.backends import db
from django.contrib.sessions.backends.base import SessionBase
from django.utils import timezone

from server.accounts.models import WebSession
from server.core import clock

BEGAN_HOUR: Final = "began"
USED_HOUR: Final = "used"


class SessionStore(db.SessionStore):
    @classmethod
    def get_model_class(cls) -> type[WebSession]:
        return WebSession

    def create_model_instance(self, data: dict[str, Any]) -> WebSession:
        session = cast("WebSession", super().create_model_instance(data))
        session.account_id = data.get(SESSION_KEY)
        return session

    def get_expiry_age(self, **kwargs: Any) -> int:
        """Seconds until it ends: unused for so long, or so long after the sign-in, whichever comes first."""
        unused_s = int(super().get_expiry_age(**kwargs))
        began = self.get(BEGAN_HOUR)
        if began is None:
            return unused_s
        return max(0, min(unused_s, began * 3600 + settings.SESSION_LONGEST_S - int(time.time())))

    def get_expiry_date(self, **kwargs: Any) -> datetime:
        return timezone.now() + timedelta(seconds=self.get_expiry_age(**kwargs))


def begin(session: SessionBase) -> None:
    """Count a sign-in from this hour."""
    session[BEGAN_HOUR] = session[USED_HOUR] = clock.hour()


def use(session: SessionBase) -> None:
    """Note that a signed-in session was used in this hour, which puts its end off."""
    if SESSION_KEY in session and session.get(USED_HOUR) != clock.hour():
        session[USED_HOUR] = clock.hour()
