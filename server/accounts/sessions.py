"""Browser sessions in the database, each naming its account (settings.SESSION_ENGINE)."""

from typing import Any, cast

from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.backends import db

from server.accounts.models import WebSession


class SessionStore(db.SessionStore):
    @classmethod
    def get_model_class(cls) -> type[WebSession]:
        return WebSession

    def create_model_instance(self, data: dict[str, Any]) -> WebSession:
        session = cast("WebSession", super().create_model_instance(data))
        session.account_id = data.get(SESSION_KEY)
        return session
