"""A cut-off and somebody who takes wears back at the same time: one of them is first, and both come out right.

On PostgreSQL two connections do it at once; on SQLite, which has one writer, the second one waits for its turn.
"""

import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from typing import Any

import pytest
from django.db import connection, transaction

from server.accounts.services import close_account, record_consent
from server.curation.services import approve_wear
from server.editions.models import Place, RecordKind, SealedRecord, Slot
from server.groups.services import leave_group
from server.wears.models import Awaited, Wear
from server.wears.services import erase_wear, take_back
from server.wears.transitions import State
from tests.server.editions.conftest import FLANK, THIGH

MOST_LOOKS = 2_000
pytestmark = pytest.mark.django_db(transaction=True)


def beside(first: Callable[[], object], *then: Callable[[], object]) -> None:
    """Begin each of `then` in a connection of its own while `first` is done and not committed; let all finish."""
    if connection.vendor == "sqlite":
        for act in (first, *then):
            act()
        return
    with ThreadPoolExecutor(len(then)) as others:
        with transaction.atomic():
            first()
            acts = [others.submit(_in_a_connection_of_its_own, act) for act in then]
            _until(lambda: _n_waiting() == sum(not act.done() for act in acts))
        for act in acts:
            act.result()


def _in_a_connection_of_its_own(act: Callable[[], object]) -> None:
    try:
        act()
    finally:
        connection.close()


def _until(holds: Callable[[], bool]) -> None:
    for _ in range(MOST_LOOKS):
        if holds():
            return
        time.sleep(0.01)
    raise AssertionError("neither done nor waiting")


def _n_waiting() -> int:
    """How many wait in this database for what somebody else holds."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_stat_clear_snapshot()")
        cursor.execute(
            "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND wait_event_type = 'Lock'"
        )
        return int(cursor.fetchone()[0])


WAYS: list[Callable[..., object]] = [
    lambda pool, member, wears: [take_back(wear.pk, account=member.account) for wear in wears],
    lambda pool, member, wears: [erase_wear(wear.pk, account=member.account) for wear in wears],
    lambda pool, member, wears: leave_group(pool.group, account=member.account),
    lambda pool, member, wears: record_consent(member.account, scope="pool", given=False, text_version=1),
    lambda pool, member, wears: close_account(member.account),
]
N_STAYING = 6
N_MEMBERS = len(WAYS) + N_STAYING
N_THAT_KEEP_WHAT_IS_COUNTED = 2  # who leaves a group or turns the switch off


@dataclass
class Leaving:
    """Members with a wear at each of two sites, approved; some of them go, each in another way."""

    pool: Any
    theirs: list[Wear]
    ways: list[Callable[[], object]]


@pytest.fixture
def leaving(pool, settings, tmp_path):
    settings.ERASURE_JOURNAL = tmp_path / "erasures.journal"
    members = pool.members(N_MEMBERS)
    wears = [(pool.wear(member, site=THIGH), pool.wear(member, site=FLANK)) for member in members]
    going = list(zip(WAYS, members, wears, strict=False))
    ways = [partial(way, pool, member, own) for way, member, own in going]
    return Leaving(pool, [wear for _, _, own in going for wear in own], ways)


def people_in_blocks():
    blocks = SealedRecord.objects.filter(kind=RecordKind.BLOCK, family="accuracy").order_by("place")
    return [block.payload["n_people"] for block in blocks]


def states(wears):
    return set(Wear.objects.filter(pk__in=[wear.pk for wear in wears]).values_list("state", flat=True))


def n_admitted():
    return Wear.objects.filter(state=State.ADMITTED).count()


def test_who_is_going_when_the_cut_off_begins_is_not_in_the_plan_and_the_others_are(leaving):
    beside(lambda: [way() for way in leaving.ways], lambda: leaving.pool.cut_off(1))
    assert Slot.objects.count() == 1
    assert people_in_blocks() == [N_STAYING] * 2
    assert n_admitted() == 2 * N_STAYING
    assert states(leaving.theirs) == {State.PRIVATE}
    assert not Awaited.objects.filter(wear__in=leaving.theirs).exists()


def test_who_goes_while_the_cut_off_runs_waits_for_it_and_leaves_sums_as_they_are(leaving):
    beside(lambda: leaving.pool.cut_off(1), *leaving.ways)
    assert people_in_blocks() == [N_MEMBERS] * 2
    assert Place.objects.filter(record__kind=RecordKind.BLOCK, record__family="accuracy").count() == 2 * N_MEMBERS
    assert n_admitted() == 2 * (N_STAYING + N_THAT_KEEP_WHAT_IS_COUNTED)
    assert states(leaving.theirs) == {State.ADMITTED}
    assert not Awaited.objects.filter(wear__in=leaving.theirs).exists()


def test_an_approval_that_comes_meanwhile_is_one_of_the_next_cut_off(leaving, give):
    """It does not hold the cut-off up, whichever of the two is first."""
    late = give(leaving.pool.members(1)[0], seed=900, site=THIGH)
    beside(
        lambda: approve_wear(leaving.pool.group, late.pk, by=leaving.pool.moderator.account),
        lambda: leaving.pool.cut_off(1),
    )
    late.refresh_from_db()
    counted = late.state == State.ADMITTED
    assert people_in_blocks() == [N_MEMBERS, N_MEMBERS + counted]
    assert (late.shown_state, counted) in {(State.QUEUED, False), (State.ADMITTED, True)}
