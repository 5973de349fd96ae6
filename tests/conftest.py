"""The cast of every test, and the world they act in: the same keys, a day that stands still, no broker, cheap hashing.

The suite of pooling runs in an environment without Django too, so what is of the server is imported where it is used.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

import hypothesis
import pytest

from server.env import Keys

if TYPE_CHECKING:
    from rest_framework.test import APIClient

    from server.accounts.models import Account
    from server.groups.models import Group

# A small application of its own, started by a test in processes of their own.
collect_ignore = ["server/probe"]
KEYS = Keys(secret_key="for tests only", mac_keys=("5e" * 32,))
PASSWORD = "four ordinary words here"
START = date(2031, 2, 10)

# How long an example may take is a question of the machine.
hypothesis.settings.register_profile("suite", deadline=None)
hypothesis.settings.load_profile("suite")


@pytest.fixture(scope="session", autouse=True)
def _world(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    if find_spec("django") is None:
        yield
        return
    from django.test.utils import override_settings

    from server.worker import app

    place = tmp_path_factory.mktemp("commonwear")
    today = place / "today"
    today.write_text(START.isoformat(), encoding="utf-8")
    world = {
        "DATA_DIR": place,
        "KEYS": KEYS,
        "SIGNING_KEY_FILE": place / "no-signing-key.pem",
        "ERASURE_JOURNAL": place / "erasures.journal",
        "CLOCK_FILE": today,
        "STATIC_ROOT": place,
        "EDITION_LOOKUP_S": 0.0,
        "PASSWORD_HASHERS": ["django.contrib.auth.hashers.MD5PasswordHasher"],
        "STORAGES": {
            "default": {"BACKEND": "django.core.files.storage.InMemoryStorage"},
            "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
        },
    }
    broker = app.conf.broker_url
    app.conf.broker_url = "memory://"
    with override_settings(**world):
        yield
    app.conf.broker_url = broker


@dataclass(frozen=True)
class Clock:
    """The day it is in a test; it stands until it is set."""

    file: Path

    def set(self, day: date) -> None:
        self.file.write_text(day.isoformat(), encoding="utf-8")


@pytest.fixture
def clock(tmp_path: Path, settings: Any) -> Clock:
    clock = Clock(tmp_path / "today")
    clock.set(START)
    settings.CLOCK_FILE = clock.file
    return clock


@dataclass(frozen=True)
class Member:
    """One of the cast, with what they wrote down when they joined and a client that is signed in as them."""

    account: Account
    recovery_codes: tuple[str, ...]
    token: str
    password: str = PASSWORD

    @property
    def sign_in_name(self) -> str:
        return self.account.sign_in_name

    @property
    def api(self) -> APIClient:
        from rest_framework.test import APIClient

        client = APIClient()
        client.credentials(HTTP_AUTHORIZATION=f"Bearer {self.token}")
        return client


@pytest.fixture
def new_member(db: None) -> Callable[[], Member]:
    from server.accounts.consents import CONSENT_VERSION
    from server.accounts.services import join, sign_in

    def new() -> Member:
        joined = join(password=PASSWORD, consent_version=CONSENT_VERSION, scopes={"keep": True, "pool": True})
        return Member(joined.account, joined.recovery_codes, sign_in(joined.sign_in_name, PASSWORD))

    return new


@pytest.fixture
def api(db: None) -> APIClient:
    """Somebody who is not signed in."""
    from rest_framework.test import APIClient

    return APIClient()


@pytest.fixture
def moderator(new_member: Callable[[], Member]) -> Member:
    """Moderates `group`."""
    return new_member()


@pytest.fixture
def contributor(new_member: Callable[[], Member], group: Group) -> Member:
    """Belongs to `group`."""
    from server.groups.services import join_group

    member = new_member()
    join_group(group, account=member.account)
    return member


@pytest.fixture
def member_of_another_group(new_member: Callable[[], Member]) -> Member:
    """Moderates a group of their own, meadow, and does not belong to `group`."""
    member = new_member()
    _found(member, "meadow")
    return member


@pytest.fixture
def stranger(new_member: Callable[[], Member]) -> Member:
    """Signed in and in no group."""
    return new_member()


@pytest.fixture
def group(moderator: Member) -> Group:
    """A public group that feeds everyone."""
    return _found(moderator, "harbour")


def _found(founder: Member, slug: str) -> Group:
    from server.groups.services import found_group

    return found_group(
        founder=founder.account,
        slug=slug,
        name=slug.capitalize(),
        description="An invented group.",
        public=True,
        feeds_everyone=True,
        wearers="mixed",
    )


@pytest.fixture
def run_due_jobs(db: None) -> Callable[[], int]:
    """Do every job that is due, and those that they ask for; say how many. A job that fails fails the test."""
    from server.core.models import Job
    from server.core.services import run_job

    def run() -> int:
        n_done = 0
        while (job := Job.objects.filter(state=Job.State.DUE).order_by("id").first()) is not None:
            run_job(job.pk)
            job.refresh_from_db()
            assert job.state == Job.State.DONE, f"{job.kind}: {job.fault}"
            n_done += 1
        return n_done

    return run
