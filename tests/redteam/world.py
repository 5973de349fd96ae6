"""A database of its own for attacks that call the service in the same process, without a worker and a broker."""

import os
import re
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from decimal import Decimal
from pathlib import Path
from typing import Any

from tests.server.records import SENSOR_MODEL
from tests.server.running import scratch_database

PASSWORD = "four ordinary words here"
FIRST_CUT_OFF, LONG_AGO = "2031-03-01", "2031-01-05"


@contextmanager
def fresh_world() -> Iterator[Path]:
    """Set Django up on an empty database; for a process that has not used it yet."""
    with ExitStack() as stack:
        place = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        day = place / "today"
        day.write_text(LONG_AGO)
        for name in [name for name in os.environ if name.startswith("COMMONWEAR_")]:
            del os.environ[name]
        os.environ |= stack.enter_context(scratch_database(os.environ.get("DATABASE_URL")))
        os.environ |= {
            "DJANGO_SETTINGS_MODULE": "server.settings",
            "COMMONWEAR_DATA_DIR": str(place),
            "COMMONWEAR_DEMO": "yes",
            "COMMONWEAR_CLOCK_FILE": str(day),
            "COMMONWEAR_FIRST_CUT_OFF": FIRST_CUT_OFF,
        }
        import django
        from django.conf import settings

        settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
        settings.ALLOWED_HOSTS = ["testserver"]
        settings.STATIC_ROOT = place
        django.setup()
        from django.core.management import call_command
        from django.db import connection

        from server.core.catalogue import list_model
        from server.worker import app

        app.conf.broker_url = "memory://localhost/"
        call_command("migrate", interactive=False, verbosity=0)
        for slug, days in ((SENSOR_MODEL, 14), ("demo-b10", 10)):
            list_model(slug, rated_life_days=Decimal(days), licensed={})
        yield day
        connection.close()


def new_member() -> Any:
    """An account, and a client that is signed in as it."""
    from rest_framework.test import APIClient

    from server.accounts.consents import CONSENT_VERSION
    from server.accounts.services import join, sign_in

    joined = join(password=PASSWORD, consent_version=CONSENT_VERSION, scopes={"keep": True, "pool": True})
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {sign_in(joined.sign_in_name, PASSWORD)}")
    client.account = joined.account
    return client


def new_group(slug: str, moderator: Any) -> Any:
    from server.groups.services import found_group

    return found_group(
        founder=moderator.account,
        slug=slug,
        name=slug.capitalize(),
        description="An invented group.",
        public=True,
        feeds_everyone=True,
        wearers="mixed",
    )


def headers_of(answer: Any) -> list[tuple[str, str]]:
    """All headers; of the request's id, drawn anew each time whatever is asked, its shape."""
    told = dict(answer.headers)
    drawn = told.pop("X-Request-ID")
    assert re.fullmatch("[0-9a-f]{16}", drawn)
    return sorted(told.items())
