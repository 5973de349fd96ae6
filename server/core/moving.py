"""The whole database carried to another one, of another kind: every row with its own id, and looked at afterwards."""

import hashlib
import json
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from graphlib import TopologicalSorter
from typing import Any
from urllib.parse import SplitResult

from django.conf import settings
from django.core.management import call_command
from django.core.management.color import no_style
from django.db import DEFAULT_DB_ALIAS, connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Model
from django.db.utils import load_backend

from server import databases
from server.core.register import our_models

TARGET = "moved_to"
ROWS_AT_ONCE = 500


class MovingError(Exception):
    """Why nothing was moved, in words for the operator."""


def move(address: SplitResult) -> Counter[str]:
    """Carry everything to an empty database; how many rows of what. All of it, or the other one holds no row."""
    with _reached(address) as target:
        if target.introspection.table_names():
            raise MovingError("The database to move to is not empty. Make a new one, and name that.")
        with _in_place_of_ours(target):
            call_command("migrate", interactive=False, verbosity=0)
        models = in_order()
        # The source is read in one transaction: on SQLite nobody writes meanwhile.
        with transaction.atomic(), transaction.atomic(using=TARGET):
            moved = Counter({model._meta.label: _carry(model) for model in models})
            for statement in target.ops.sequence_reset_sql(no_style(), models):
                with target.cursor() as cursor:
                    cursor.execute(statement)
            if differing := [model._meta.label for model in models if not _alike(model)]:
                raise MovingError(f"Rows arrived otherwise than they are here, so nothing was moved: {differing}.")
    return moved


@contextmanager
def _reached(address: SplitResult) -> Iterator[BaseDatabaseWrapper]:
    known = connections.settings[DEFAULT_DB_ALIAS] | databases.described(
        address, data_dir=settings.DATA_DIR, at_once=settings.MOST_REQUESTS
    )
    # Pools are known by the name of their connection: it would be given one of ours.
    known["OPTIONS"] = {name: value for name, value in known["OPTIONS"].items() if name != "pool"}
    connections.settings[TARGET] = known
    # It is called the default one, since migrations speak to that.
    connections[TARGET] = target = load_backend(known["ENGINE"]).DatabaseWrapper(known, DEFAULT_DB_ALIAS)
    try:
        yield target
    finally:
        target.close()
        del connections[TARGET]
        del connections.settings[TARGET]


@contextmanager
def _in_place_of_ours(target: BaseDatabaseWrapper) -> Iterator[None]:
    ours = connections[DEFAULT_DB_ALIAS]
    connections[DEFAULT_DB_ALIAS] = target
    try:
        yield
    finally:
        connections[DEFAULT_DB_ALIAS] = ours


def in_order() -> list[type[Model]]:
    """Our tables, each after those that it points at."""
    ours = our_models(joining=True)
    graph = {
        model: {field.related_model for field in model._meta.concrete_fields if field.related_model} - {model}
        for model in ours
    }
    return [model for model in TopologicalSorter(graph).static_order() if model in set(ours)]


def _carry(model: type[Model]) -> int:
    there = model._base_manager.using(TARGET)
    there._raw_delete(TARGET)  # what migrations put into an empty database
    n_rows, waiting = 0, []
    for row in model._base_manager.order_by("pk").iterator(ROWS_AT_ONCE):
        waiting.append(row)
        if len(waiting) == ROWS_AT_ONCE:
            n_rows += len(there.bulk_create(waiting))
            waiting = []
    return n_rows + len(there.bulk_create(waiting))


def _alike(model: type[Model]) -> bool:
    return told(model, DEFAULT_DB_ALIAS) == told(model, TARGET)


def told(model: type[Model], alias: str) -> tuple[int, int]:
    """How many rows there are, and a sum over their SHA-256: the same in any order, as databases sort differently."""
    n_rows = total = 0
    for row in model._base_manager.using(alias).values_list().iterator(ROWS_AT_ONCE):
        n_rows += 1
        total += int.from_bytes(hashlib.sha256(_plain(row)).digest())
    return n_rows, total % 2**256


def _plain(row: tuple[Any, ...]) -> bytes:
    return json.dumps([_same_number(value) for value in row], sort_keys=True, default=_written).encode()


def _same_number(value: Any) -> Any:
    """A database may keep 2.0 in a document as 2."""
    match value:
        case float() if value.is_integer():
            return int(value)
        case dict():
            return {key: _same_number(one) for key, one in value.items()}
        case list() | tuple():
            return [_same_number(one) for one in value]
    return value


def _written(value: Any) -> str:
    return bytes(value).hex() if isinstance(value, bytes | memoryview) else str(value)
