"""How much room wears take on disk, when they are uploaded and once a cut-off has counted them.

On SQLite, or on the PostgreSQL of DATABASE_URL. `python -m tests.bench.room 3000` tells it in MiB for 1,000 wears of 30
pairs, table by table, with time and memory of their cut-off; the benches tell it as ratios.
"""

import json
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from resource import RUSAGE_SELF, getrusage
from typing import Any

from tests.bench.runner import bench
from tests.redteam.world import fresh_world, new_group, new_member
from tests.server.records import record

N_WEARS, N_PAIRS, MIB, AT_ONCE = 600, 30, 2**20, 300
SITES = ("thigh.front", "abdomen.flank", "upper_arm.back")
MODELS = ("demo-a14", "demo-b10")
TOLD = {"skin": {"grade": 1, "signs": []}, "ratings": {"ease": 6, "comfort": 5, "discretion": 7, "rated_by": "self"}}


@dataclass(frozen=True)
class Room:
    """Bytes of each table: without wears, with them uploaded and approved, and after their cut-off."""

    n_wears: int
    sent_bytes: int
    empty: dict[str, int]
    uploaded: dict[str, int]
    counted: dict[str, int]
    cut_off_s: float
    more_memory_mib: float
    journal_bytes: int

    def mib_per_1000(self, held: dict[str, int]) -> dict[str, float]:
        """What the wears add to each table, the largest first."""
        more = {table: (held[table] - self.empty[table]) / MIB * 1000 / self.n_wears for table in held}
        return {table: round(mib, 2) for table, mib in sorted(more.items(), key=lambda one: -one[1]) if mib > 0.005}

    def as_json(self) -> str:
        uploaded, counted = self.mib_per_1000(self.uploaded), self.mib_per_1000(self.counted)
        told = {
            "n_wears": self.n_wears,
            "sent_mib_per_1000": round(self.sent_bytes / MIB * 1000 / self.n_wears, 2),
            "uploaded_mib_per_1000": round(sum(uploaded.values()), 2),
            "counted_mib_per_1000": round(sum(counted.values()), 2),
            "journal_mib_per_1000": round(self.journal_bytes / MIB * 1000 / self.n_wears, 2),
            "cut_off_s": round(self.cut_off_s, 1),
            "more_memory_at_the_cut_off_mib": round(self.more_memory_mib, 1),
            "uploaded": uploaded,
            "counted": counted,
        }
        return json.dumps(told, indent=1)


def measured(n_wears: int) -> Room:
    """Members of one group upload three wears each, all are approved, and one cut-off counts them."""
    with fresh_world() as day:
        from django.conf import settings

        from server.editions.admission import run_cut_off

        moderator = new_member()
        group = new_group("harbour", moderator)
        empty = _held_bytes()
        sent = sum(_in_batches(group, n_wears // len(SITES)))
        _approve_all(group, moderator.account)
        uploaded = _held_bytes()
        day.write_text("2031-03-01")
        before_kib, began = getrusage(RUSAGE_SELF).ru_maxrss, time.monotonic()
        assert run_cut_off(1, slot_key=b"of a bench")
        took_s, more_kib = time.monotonic() - began, getrusage(RUSAGE_SELF).ru_maxrss - before_kib
        counted = _held_bytes()
        noted = settings.ERASURE_JOURNAL.stat().st_size
        return Room(n_wears, sent, empty, uploaded, counted, took_s, more_kib / 1024, noted)


def _in_batches(group: Any, n_members: int) -> Iterator[int]:
    from django.db import transaction

    for start in range(0, n_members, AT_ONCE):
        with transaction.atomic():
            yield sum(_of_one_member(group, number) for number in range(start, min(start + AT_ONCE, n_members)))


def _of_one_member(group: Any, number: int) -> int:
    """The bytes that were sent."""
    from server.accounts.consents import CONSENT_VERSION
    from server.accounts.selectors import wearer_of
    from server.accounts.services import join
    from server.groups.services import join_group
    from server.wears.services import accept_upload, give_to_group

    account = join(password=None, consent_version=CONSENT_VERSION, scopes={"keep": True, "pool": True}).account
    join_group(group, account=account)
    n_bytes = 0
    for place, site in enumerate(SITES):
        about = {"site": site, "sensor_model": MODELS[number % 2], "plan": None, **TOLD}
        sent = json.dumps(record(seed=10 * number + place + 1, n_pairs=N_PAIRS, **about)).encode()
        wear = accept_upload(sent, account=account, wearer=wearer_of(account, None)).wear
        give_to_group(wear.pk, account=account, group=group)
        n_bytes += len(sent)
    return n_bytes


def _approve_all(group: Any, account: Any) -> None:
    from django.db import transaction

    from server.curation.services import approve_wear
    from server.wears.models import Wear
    from tests.server.releasing import release_all

    release_all()
    with transaction.atomic():
        for wear_id in Wear.objects.values_list("pk", flat=True):
            approve_wear(group, wear_id, by=account)


def _held_bytes() -> dict[str, int]:
    """What each table takes with its indexes, once what was noted is in the journal: after two nights."""
    from django.db import connection

    from server.core import journal
    from server.core.deletion import make_physical, our_tables

    journal.write_out()
    assert all(make_physical(thorough=True) for _ in range(2))
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT tbl_name, sum(pgsize) FROM dbstat JOIN sqlite_master USING (name) GROUP BY 1")
        else:
            cursor.execute("SELECT t, pg_total_relation_size(t::regclass) FROM unnest(%s::text[]) AS t", [our_tables()])
        return {table: n_bytes for table, n_bytes in cursor.fetchall() if table in our_tables()}


@bench("disk of uploaded wears of 30 pairs: the bytes that were sent", bound=2.0, only_by_name=True)
def room_of_uploads() -> float:
    """With rows of people, marks, decisions and indexes."""
    room = measured(N_WEARS)
    return (sum(room.uploaded.values()) - sum(room.empty.values())) / room.sent_bytes


@bench("disk of the same wears after their cut-off: before it", bound=6.0, only_by_name=True)
def room_after_a_cut_off() -> float:
    """With sums, places and marks beside wears that are all still kept."""
    room = measured(N_WEARS)
    return (sum(room.counted.values()) - sum(room.empty.values())) / (
        sum(room.uploaded.values()) - sum(room.empty.values())
    )


if __name__ == "__main__":
    print(measured(int(sys.argv[1])).as_json())  # noqa: T201
