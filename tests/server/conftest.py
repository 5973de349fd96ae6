"""The catalogue, wears on their way, and a database for a running service, for the tests of the server."""

from __future__ import annotations

import json
import logging
import os
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.server.records import SENSOR_MODEL, raw
from tests.server.releasing import release
from tests.server.running import scratch_database

if TYPE_CHECKING:
    from server.wears.models import Wear


@pytest.fixture(autouse=True)
def _journal_of_its_own(settings: Any, tmp_path: Path) -> None:
    """What one test commits, and so notes, must not make the database of the next one look older than the journal."""
    settings.ERASURE_JOURNAL = tmp_path / "journal-of-this-test"


@pytest.fixture(autouse=True)
def _empty_queue() -> None:
    """All tests of a process have one queue in its memory, and a queue that is full is sent nothing more."""
    from kombu.transport.memory import Channel

    Channel.queues.clear()


class Lines(logging.Handler):
    """What the log would hold, as programs read it."""

    def __init__(self) -> None:
        from server.core.logs import InJson

        super().__init__()
        self.setFormatter(InJson())
        self.said: list[dict[str, Any]] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.said.append(json.loads(self.format(record)))


@pytest.fixture
def lines() -> Iterator[list[dict[str, Any]]]:
    """The lines that are logged meanwhile."""
    handler = Lines()
    logging.disable(logging.NOTSET)
    logging.getLogger().addHandler(handler)
    for name, logger in logging.root.manager.loggerDict.items():
        if name.startswith("server") and isinstance(logger, logging.Logger):
            logger.disabled = False  # a library that sets up logging for itself may have silenced it
    yield handler.said
    logging.getLogger().removeHandler(handler)


@pytest.fixture
def catalogue(db: None) -> list[str]:
    """Two sensor models that new wears may name, and one that they may not."""
    from server.core.models import SensorModel

    for slug, days, is_open in ((SENSOR_MODEL, 14, True), ("demo-b10", 10, True), ("demo-closed", 14, False)):
        SensorModel.objects.get_or_create(slug=slug, defaults={"rated_life_days": days, "open": is_open})
    return [SENSOR_MODEL, "demo-b10"]


@pytest.fixture
def upload(catalogue: list[str]) -> Callable[..., Wear]:
    """Upload a wear for one of the cast, on their own body or on that of the wearer given."""
    from server.accounts.selectors import wearer_of
    from server.wears.services import accept_upload

    def accept(member: Any, *, wearer: Any = None, **changes: Any) -> Wear:
        on = wearer or wearer_of(member.account, None)
        return accept_upload(raw(**changes), account=member.account, wearer=on).wear

    return accept


@pytest.fixture
def give(upload: Callable[..., Wear], group: Any) -> Callable[..., Wear]:
    """Upload a wear and give it to `group`, or to the one named; its batch is released unless that is said to wait."""
    from server.wears.services import give_to_group

    def accept(member: Any, *, to: Any = None, released: bool = True, **changes: Any) -> Wear:
        wear = upload(member, **changes)
        given = give_to_group(wear.id, account=member.account, group=to or group)
        if released:
            release(given.pk)
            given.released = True
        return given

    return accept


@pytest.fixture
def approve(give: Callable[..., Wear], group: Any, moderator: Any) -> Callable[..., Wear]:
    """Give a wear to `group` and have its moderator approve it."""
    from server.curation.services import approve_wear

    def accept(member: Any, **changes: Any) -> Wear:
        wear = give(member, **changes)
        approve_wear(group, wear.id, by=moderator.account)
        wear.refresh_from_db()
        return wear

    return accept


@pytest.fixture
def database() -> Iterator[dict[str, str]]:
    """For a service in processes of its own, the variable that names an empty database; none for SQLite."""
    with scratch_database(os.environ.get("DATABASE_URL")) as variables:
        yield variables


@pytest.fixture
def edition(db: None) -> Any:
    """An edition of an invented public group, put where a publication puts it."""
    from pooling.edition import assemble, canonical_bytes, sha256_hex
    from server.editions.models import Edition, Slot
    from server.groups.models import Group
    from tests.pooling.conftest import make_context, make_fit, make_outcomes, make_parts

    group = Group.objects.create(
        slug="hill-walkers",
        name="Hill walkers",
        description="They walk.",
        public=True,
        feeds_everyone=False,
        wearers="adult",
        founded_on=date(2030, 1, 1),
    )
    slot = Slot.objects.create(number=7, cut_off=date(2026, 7, 1))
    content = canonical_bytes(assemble(make_fit(), make_context(), make_outcomes(), make_parts()))
    return Edition.objects.create(
        group=group, slot=slot, document=content, sha256=sha256_hex(content), published_month=date(2026, 7, 1)
    )


@pytest.fixture
def browser_for() -> Callable[[Any], Any]:
    """A browser of its own in which a member of the cast is signed in."""
    from django.test import Client

    def signed_in(member: Any) -> Client:
        browser = Client()
        browser.force_login(member.account)
        return browser

    return signed_in
