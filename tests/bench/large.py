"""What a cut-off of very many wears takes, through the whole service: seconds of computing and memory.

`python -m tests.bench.large 9000 30000 100000` tells it of each number of wears, on SQLite or on the PostgreSQL of
DATABASE_URL; `--cut-offs 2` passes a second one with as many new wears of the same people. Each cut-off is passed by a
process of its own, and computing is that process's alone. What is sealed is the same in every run and on both
databases: its hash tells whether a change of the code changed it.
"""

import argparse
import hashlib
import json
import math
import multiprocessing
import os
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

from tests.bench.runner import bench
from tests.redteam.world import FIRST_CUT_OFF, fresh_world
from tests.server.filling import Filling

SLOT_KEY, MAC_KEY, KIB = b"of a bench", "5e" * 32, 1024
SIZES = (3_000, 30_000)


@dataclass(frozen=True)
class Passed:
    """One cut-off, as the process that passed it saw it."""

    n_waiting: int
    n_counted: int
    n_sums: int
    n_places: int
    computing_s: float
    wall_s: float
    before_mib: float
    peak_mib: float
    sealed_sha256: str


def measured(n_wears: int, n_cut_offs: int = 1) -> list[Passed]:
    """So many wears wait at each cut-off, of the same people; in a process that has used no database yet."""
    with fresh_world() as day:
        os.environ["COMMONWEAR_KEYS_FILE"] = str(_known_keys())
        from server.editions.calendar import cut_off_of

        filling, passed = Filling(n_wears, n_cut_offs), []
        for slot in range(1, n_cut_offs + 1):
            filling.approve(slot)
            day.write_text(cut_off_of(slot, first=date.fromisoformat(FIRST_CUT_OFF)).isoformat())
            passed.append(_in_own_process(_pass, slot))
        return passed


def _in_own_process(work: Any, *inputs: Any) -> Any:
    with ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn")) as pool:
        return pool.submit(work, *inputs).result()


def _pass(slot: int) -> Passed:
    import django

    django.setup()
    from django.db import connection

    from server.editions.admission import run_cut_off
    from server.editions.models import Place, SealedRecord
    from server.wears.models import Wear

    n_waiting, places, records = _n_waiting(), Place.objects.count(), SealedRecord.objects.count()
    before_kib, wall, computing = _peak_kib(), time.monotonic(), time.process_time()
    assert run_cut_off(slot, slot_key=SLOT_KEY)
    computing_s, wall_s = time.process_time() - computing, time.monotonic() - wall
    peak_kib = _peak_kib()
    passed = Passed(
        n_waiting=n_waiting,
        n_counted=Wear.objects.filter(state="admitted").count(),
        n_sums=SealedRecord.objects.count() - records,
        n_places=Place.objects.count() - places,
        computing_s=round(computing_s, 1),
        wall_s=round(wall_s, 1),
        before_mib=round(before_kib / KIB, 1),
        peak_mib=round(peak_kib / KIB, 1),
        sealed_sha256=sealed_sha256(),
    )
    connection.close()
    return passed


def _peak_kib() -> int:
    """The most memory that this process had; what `getrusage` tells may be of the one that started it."""
    lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    return int(next(line.split()[1] for line in lines if line.startswith("VmHWM:")))


def _n_waiting() -> int:
    from django.db.models import Q

    from server.wears.models import Wear

    return Wear.objects.filter(Q(state="approved") | Q(awaited__isnull=False)).distinct().count()


def sealed_sha256() -> str:
    """Of every sum, place, seat, mark and wear that there is, without the random labels they stand under."""
    from server.accounts.models import PlaceLabel
    from server.editions.models import Place, SealedRecord, SpentMarks, TieSeat
    from server.wears.models import Awaited, Wear

    def digest(*content: Any) -> str:
        return hashlib.sha256(json.dumps(content, sort_keys=True, default=str).encode()).hexdigest()

    about = ("family", "kind", "scope", "place", "sensor_model", "end_bucket", "seal_version", "k", "payload")
    records = {row.pk: digest(*(getattr(row, name) for name in about)) for row in SealedRecord.objects.iterator()}
    owners = {label: (account, wearer) for label, account, wearer in PlaceLabel.objects.values_list().iterator()}
    places = {
        label: digest(records[record], *weights, *owners[label])
        for label, record, *weights in Place.objects.values_list("label", "record_id", "n_wears", "q1", "q2").iterator()
    }
    linked: dict[Any, list[str]] = {}
    for record, place, linker in TieSeat.objects.values_list("record_id", "place_id", "linker").iterator():
        linked.setdefault(linker, [records[record]]).append(places[place])
    wears = ("pk", "state", "previous_state", "shown_state", "first_end_bucket", "end_bucket")
    return digest(
        sorted(records.values()),
        sorted(places.values()),
        sorted(sorted(own) for own in linked.values()),
        [bytes(row.numbers).hex() for row in SpentMarks.objects.order_by("key_version", "first_byte")],
        list(Wear.objects.order_by("pk").values_list(*wears).iterator()),
        list(Awaited.objects.order_by("wear_id", "family").values_list("wear_id", "family", "since_slot").iterator()),
    )


def _known_keys() -> Path:
    """Keys that are the same in every run, in the settings and for processes to come."""
    from django.conf import settings

    file = Path(os.environ["COMMONWEAR_DATA_DIR"]) / "known-keys.json"
    file.write_text(json.dumps({"secret_key": settings.KEYS.secret_key, "mac_keys": [MAC_KEY]}))
    file.chmod(0o600)
    settings.KEYS = replace(settings.KEYS, mac_keys=(MAC_KEY,))
    return file


@bench("growth of a whole cut-off: power of the number of wears, 3,000 to 30,000", bound=1.15, only_by_name=True)
def growth_of_a_cut_off() -> float:
    """By time of computing, on the database that the environment names."""
    few, many = (_in_own_process(measured, n)[0] for n in SIZES)
    return math.log(many.computing_s / few.computing_s) / math.log(SIZES[1] / SIZES[0])


@bench("memory of a whole cut-off of 30,000 wears: KiB a wear", bound=20, only_by_name=True)
def memory_of_a_cut_off() -> float:
    """What the process takes at its peak, beyond what it took before."""
    (passed,) = _in_own_process(measured, SIZES[1])
    return (passed.peak_mib - passed.before_mib) * KIB / passed.n_waiting


def _main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.large", description=__doc__)
    parser.add_argument("n_wears", nargs="+", type=int, help="that wait at a cut-off")
    parser.add_argument("--cut-offs", type=int, default=1, help="one after the other, of the same people")
    told = parser.parse_args()
    for n_wears in told.n_wears:
        for passed in _in_own_process(measured, n_wears, told.cut_offs):
            print(json.dumps(asdict(passed)), flush=True)  # noqa: T201


if __name__ == "__main__":
    _main()
