"""Looks at the running service and says in words what is wrong and what to do; it changes nothing.

An app's `tasks.py` registers what it knows to look at. An examination returns complaints, none where all is well, and
advice, by which nothing is wrong.
"""

import shutil
import stat
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor

from server.core import beat, clock, grants, journal, rotation
from server.core.keys import key_version
from server.core.models import Erasure, Job
from server.worker import app

Examination = Callable[[], Iterable[str]]
LEAST_ROOM_BYTES = 512 * 1024**2
_examinations: dict[str, Examination] = {}


class Advice(str):
    """What could be better, though nothing is wrong."""


@dataclass(frozen=True, slots=True)
class Finding:
    looked_at: str
    complaints: tuple[str, ...]
    advice: tuple[str, ...] = ()


def register(looked_at: str, examination: Examination) -> None:
    if _examinations.setdefault(looked_at, examination) is not examination:
        raise RuntimeError(f"two examinations of {looked_at}")


def examinations() -> Mapping[str, Examination]:
    return MappingProxyType(_examinations)


def examine() -> Iterator[Finding]:
    """Everything in turn. Without a database that has its tables there is nothing more to ask it."""
    yield Finding("keys and files", tuple(files()))
    yield Finding("room on disks", tuple(room()))
    yield Finding("broker", tuple(broker()))
    unusable = tuple(database())
    yield Finding("database", unusable)
    if not unusable:
        for looked_at, examination in _examinations.items():
            said = tuple(examination())
            advice = tuple(line for line in said if isinstance(line, Advice))
            yield Finding(looked_at, tuple(line for line in said if not isinstance(line, Advice)), advice)


def database() -> Iterator[str]:
    try:
        executor = MigrationExecutor(connection)
        missing = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError:
        yield "The database does not answer. Is it running, and is DATABASE_URL right?"
        return
    if missing:
        yield f"{len(missing)} migrations are missing. Stop the service and run: python -m server migrate"


def broker() -> Iterator[str]:
    try:
        swept = beat.is_heard()
    except beat.Unknown:
        yield "The broker does not answer; work waits and none is lost. Is it running, and is REDIS_URL right?"
        return
    if not swept:
        yield "No sweep has been heard of lately. Start one: python -m server sweep --every 5"
    if not app.control.ping(timeout=1.0):
        yield "No worker answers. Start one: python -m server worker"


def files() -> Iterator[str]:
    ours = [settings.KEYS_FILE, settings.ERASURE_JOURNAL, settings.SIGNING_KEY_FILE, settings.BACKUP_KEY_FILE]
    if connection.vendor == "sqlite":
        ours += [Path(f"{connection.settings_dict['NAME']}{end}") for end in ("", "-wal", "-shm")]
    for file in ours:
        if file.exists() and (mode := stat.S_IMODE(file.stat().st_mode)) & 0o077:
            yield f"{file} can be used by others (mode {mode:o}). Run: chmod 600 {file}"
    if settings.KEYS_FILE.exists() and settings.KEYS_FILE.parent == settings.BACKUP_KEY_FILE.parent and settings.PUBLIC:
        yield "The backup key lies beside the keys file. Name another place for it: COMMONWEAR_BACKUP_KEY_FILE."


def room() -> Iterator[str]:
    """With a database and a broker elsewhere the data folder holds locks alone and may be a small one in memory."""
    holds_data = connection.vendor == "sqlite" or settings.EMBEDDED_BROKER
    for place in sorted({settings.ERASURE_JOURNAL.parent, *([settings.DATA_DIR] if holds_data else [])}):
        if Path(place).exists() and (free := shutil.disk_usage(place).free) < LEAST_ROOM_BYTES:
            yield f"{free // 1024**2} MiB are free at {place}. Make room before writes fail."


def jobs() -> Iterator[str]:
    waiting = Job.objects.filter(state__in=[Job.State.DUE, Job.State.RUNNING], changed_on__lt=clock.today())
    if oldest := waiting.order_by("changed_on").values_list("changed_on", flat=True).first():
        yield f"{waiting.count()} jobs wait since an earlier day, the oldest since {oldest}. Do workers run?"
    if n_failed := Job.objects.filter(state=Job.State.FAILED).count():
        yield f"{n_failed} jobs failed for good. The log says where; their drafts can be discarded and started again."


def erasures() -> Iterator[str]:
    if journal.is_ahead():
        yield "The database is older than the erasure journal. Run: python -m server replay"
    if n_unwritten := Erasure.objects.filter(written=False).count():
        yield f"{n_unwritten} erasures are not in the journal yet. Can {settings.ERASURE_JOURNAL} be written?"


def chain_of_keys() -> Iterator[str]:
    if (missing := rotation.newest_in_use() - key_version()) > 0:
        yield f"The keys file lacks {missing} keys that rows were written with. Put its newest copy back."


def accounts_of_the_database() -> Iterator[str]:
    if connection.vendor != "postgresql":
        return
    if settings.PUBLIC and not settings.SERVICE_ROLE:
        yield Advice(
            "One account of the database does everything. Give web, worker and sweep one that owns nothing: "
            "docs/OPERATIONS.md, Accounts of the database."
        )
    missing = grants.missing_accounts()
    if missing:
        yield f"There is no account {' or '.join(missing)}. Run as the owner: python -m server grants --apply"
    for role in sorted(grants.roles().keys() - missing):
        lacking, beyond = grants.differing(role)
        if lacking:
            yield f"{role} lacks {', '.join(lacking)}. Run as the owner: python -m server grants --apply"
        if beyond:
            taken = "Those to tables takes away: python -m server grants --apply"
            yield Advice(f"{role} needs no {', '.join(beyond)}. {taken}")
    if settings.PUBLIC and settings.SERVICE_ROLE:
        for name in grants.owners_at_work():
            yield Advice(
                f"{name}, who owns the tables, is signed in. Web, worker and sweep: as {settings.SERVICE_ROLE}."
            )
