"""Wears on their way in, or given away, while their owner turns the switch off: whichever is first, none stays.

Two connections do it at once. On SQLite that needs a file, since a database in memory is of one connection.
"""

import fcntl
import sqlite3
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from functools import partial

import pytest
from django.db import connection, transaction

from server.accounts.models import Holding
from server.accounts.selectors import wearer_of
from server.accounts.services import record_consent
from server.core.errors import Conflict
from server.wears.intake import accepting
from server.wears.models import Wear, WearPairs
from server.wears.services import accept_upload, give_to_group
from server.wears.transitions import State
from tests.server.editions.test_admission_beside import _in_a_connection_of_its_own, _n_waiting, _until
from tests.server.records import raw

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def connections_apart(contributor, catalogue, tmp_path, monkeypatch):
    """A database that two connections share: on SQLite a file with what is in memory, for as long as this lasts."""
    if connection.vendor != "sqlite":
        yield
        return
    file, in_memory = tmp_path / "beside.sqlite3", connection.connection
    with closing(sqlite3.connect(file)) as copy:
        in_memory.backup(copy)
    with monkeypatch.context() as patched:
        patched.setitem(connection.settings_dict, "NAME", str(file))
        connection.connection = None
        yield
        connection.close()
    connection.connection = in_memory


def n_in_line():
    """How many wait for the database to be theirs."""
    if connection.vendor == "postgresql":
        return _n_waiting()
    with open(f"{connection.settings_dict['NAME']}-turn", "w") as turn:
        try:
            fcntl.flock(turn, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return 1
    return 0


def begun_before(first, second, *, waited=None):
    """What `second` fails with, begun while `first` is done and not committed; `waited` is told whether it did."""
    with ThreadPoolExecutor(1) as other:
        with transaction.atomic():
            first()
            acting = other.submit(_in_a_connection_of_its_own, second)
            _until(lambda: acting.done() or n_in_line())
            if waited is not None:
                waited.append(not acting.done())
        return acting.exception()


def bring(member):
    with transaction.atomic(), accepting(member.account) as intake:
        for seed in range(3):
            intake.take(raw(seed=seed), wearer=wearer_of(member.account, None))


def switch_off(member, scope):
    record_consent(member.account, scope=scope, given=False, text_version=1)


def test_what_is_on_its_way_when_keeping_ends_is_erased_with_the_rest(contributor, connections_apart):
    assert begun_before(partial(bring, contributor), partial(switch_off, contributor, "keep")) is None
    assert [model.objects.count() for model in (Wear, WearPairs, Holding)] == [0, 0, 0]


def test_what_comes_while_keeping_ends_is_refused(contributor, connections_apart):
    refused = begun_before(partial(switch_off, contributor, "keep"), partial(bring, contributor))
    assert isinstance(refused, Conflict)
    assert [model.objects.count() for model in (Wear, WearPairs, Holding)] == [0, 0, 0]


@pytest.fixture
def kept(contributor, catalogue):
    return accept_upload(raw(), account=contributor.account, wearer=wearer_of(contributor.account, None)).wear


def test_what_is_given_when_pooling_ends_is_taken_back(contributor, group, kept, connections_apart):
    give = partial(give_to_group, kept.pk, account=contributor.account, group=group)
    assert begun_before(give, partial(switch_off, contributor, "pool")) is None
    assert Wear.objects.get().state == State.PRIVATE


def test_what_is_given_while_pooling_ends_stays_private(contributor, group, kept, connections_apart):
    give = partial(give_to_group, kept.pk, account=contributor.account, group=group)
    assert isinstance(begun_before(partial(switch_off, contributor, "pool"), give), Conflict)
    assert Wear.objects.get().state == State.PRIVATE


def test_uploads_of_one_account_do_not_wait_for_each_other(contributor, connections_apart):
    """On SQLite every writer waits for the one before."""
    uploads = [partial(bring, contributor)] * 2
    waited = []
    assert begun_before(*uploads, waited=waited) is None
    assert waited == [connection.vendor == "sqlite"]
    assert Wear.objects.count() == 6
