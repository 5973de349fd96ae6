"""The whole service on a machine of one processor and 1 GB: the memory of all its processes, and how pages fare.

Memory is proportional (PSS of smaps_rollup): what several processes share is counted once, by parts. It is looked at
again and again while an invented community signs in, uploads, passes a cut-off and gets its edition.
"""

import json
import os
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from datetime import timedelta
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from typing import Any

import httpx

from server.editions.calendar import cut_off_of
from tests.faults.clients import Caller, Moderator, send_all
from tests.faults.run import FIRST_CUT_OFF, FOUNDED_ON, Plan, uploads_of
from tests.faults.steward import GROUP, PASSWORD
from tests.server.running import Service, wait_until

Say = Callable[[str], None]
GLANCE_S = 0.2
MIB = 2**20
ROOM_MIB = 1024
AT_ONCE = 4
PAGES = ("/", f"/groups/{GROUP}/", "/about-data/")


@dataclass
class Seen:
    """Highest memory of all processes together and of each part by itself, and how long pages took."""

    n_uploads: int
    n_people: int
    most_mib: float = 0.0
    most_of_part_mib: dict[str, float] = field(default_factory=dict)
    most_at: str = ""
    edition: str = ""
    page_idle_ms: float = 0.0
    page_meanwhile_ms: float = 0.0
    took_s: float = 0.0

    @property
    def fits(self) -> bool:
        return 0 < self.most_mib < ROOM_MIB and bool(self.edition)

    def as_json(self) -> str:
        return json.dumps(asdict(self) | {"fits": self.fits}, indent=1)


def run(n_uploads: int, n_people: int, *, seed: int = 1, options: tuple[str, ...] = ("--small",), say: Say) -> Seen:
    """Upload, sign in, cut off and publish on a service of its own with SQLite and the broker of the wheel."""
    began, seen = time.monotonic(), Seen(n_uploads, n_people)
    with TemporaryDirectory() as folder, _service(Path(folder), options) as service:
        watch = Watch(service, seen)
        with watch:
            _play(service, seen, Plan(n_uploads, n_editions=1, n_people=n_people, seed=seed), watch, say)
    seen.took_s = round(time.monotonic() - began, 1)
    return seen


@contextmanager
def _service(place: Path, options: tuple[str, ...]) -> Iterator[Service]:
    (place / "day").write_text(FOUNDED_ON.isoformat(), encoding="ascii")
    service = Service(
        place,
        {},
        settings="tests.small.settings",
        options=options,
        COMMONWEAR_DEMO="yes",
        COMMONWEAR_CLOCK_FILE=str(place / "day"),
        COMMONWEAR_FIRST_CUT_OFF=FIRST_CUT_OFF.isoformat(),
    )
    for name in ("DATABASE_URL", "REDIS_URL"):
        service.environment.pop(name, None)
    service.start()
    try:
        wait_until(service.answers)
        yield service
    finally:
        service.stop()


class Watch:
    """Looks at the service's processes until it is told to stop, and keeps the highest sums."""

    def __init__(self, service: Service, seen: Seen) -> None:
        self.service, self.seen = service, seen
        self.during = "start"
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._look_on, daemon=True)

    def __enter__(self) -> None:
        self._thread.start()

    def __exit__(self, *_: object) -> None:
        self._ending.set()
        self._thread.join()

    def _look_on(self) -> None:
        assert self.service.process is not None
        while not self._ending.wait(GLANCE_S):
            held = memory_mib(self.service.process.pid)
            if sum(held.values()) > self.seen.most_mib:
                self.seen.most_mib, self.seen.most_at = round(sum(held.values()), 1), self.during
            for name, mib in held.items():
                most = self.seen.most_of_part_mib
                most[name] = round(max(mib, most.get(name, 0.0)), 1)


def memory_mib(root: int) -> dict[str, float]:
    """Proportional memory of a process (`up`) and of each of its parts with all that these started."""
    parents = dict(_parents())
    held: dict[str, float] = {}
    for process in parents:
        part = _below(process, root, parents)
        if part is not None:
            name = _name(part) if part != root else "up"
            held[name] = held.get(name, 0.0) + _pss_bytes(process) / MIB
    return held


def _parents() -> Iterator[tuple[int, int]]:
    for entry in Path("/proc").iterdir():
        if entry.name.isdecimal():
            try:
                yield int(entry.name), int((entry / "stat").read_text().rpartition(")")[2].split()[1])
            except (FileNotFoundError, ProcessLookupError):
                continue


def _below(process: int, root: int, parents: dict[int, int]) -> int | None:
    """The child of `root` that a process comes from, `root` for itself, None where it is another's."""
    if process == root:
        return root
    while process in parents:
        if parents[process] == root:
            return process
        process = parents[process]
    return None


def _name(process: int) -> str:
    try:
        command = Path(f"/proc/{process}/cmdline").read_bytes().decode().split("\0")
    except (FileNotFoundError, ProcessLookupError):
        return "gone"
    return next((word for word in ("web", "worker", "sweep") if word in command), "broker")


def _pss_bytes(process: int) -> int:
    try:
        lines = Path(f"/proc/{process}/smaps_rollup").read_text().splitlines()
    except (FileNotFoundError, ProcessLookupError):
        return 0
    return next((1024 * int(line.split()[1]) for line in lines if line.startswith("Pss:")), 0)


def _play(service: Service, seen: Seen, plan: Plan, watch: Watch, say: Say) -> None:
    (uploads,) = uploads_of(plan)
    names = sorted({upload.member for upload in uploads})
    _steward(service, "catalogue")
    people = _steward(service, "people", names)
    sign_in_names = {**people["members"], "": people["moderator"]}
    seen.page_idle_ms = _page_ms(service, n_times=30)
    say(f"{len(names)} people have joined; a page takes {seen.page_idle_ms:.1f} ms")

    watch.during = "sign-in"
    brought_on = cut_off_of(1, first=FIRST_CUT_OFF) - timedelta(days=10)
    _set_day(service, brought_on)
    tokens = _sign_in(service, sign_in_names)
    watch.during = "uploads"
    caller = Caller([service.address])
    try:
        send_all(uploads, caller, tokens, n_at_once=AT_ONCE)
        say(f"{len(uploads)} wears are uploaded and given; {seen.most_mib:.0f} MiB so far")
        _set_day(service, brought_on + timedelta(days=7 - brought_on.weekday()))
        _steward(service, "look and approve")
        watch.during = "cut-off and edition"
        _set_day(service, cut_off_of(1, first=FIRST_CUT_OFF))
        moderator = Moderator(caller, tokens[""])
        address = moderator.drafted(1)
        with ThreadPoolExecutor(1) as reader:
            fitting = threading.Event()
            times = reader.submit(_pages_until, service, fitting)
            moderator.finished(address)
            fitting.set()
        seen.page_meanwhile_ms = round(1000 * median(times.result()), 1)
        seen.edition = moderator.publish(1)
        watch.during = "reading"
        _read_edition(service)
    finally:
        caller.client.close()
    say(f"edition {seen.edition[:12]}; a page took {seen.page_meanwhile_ms:.1f} ms meanwhile")


def _steward(service: Service, word: str, said: Any = None) -> Any:
    cheap = {"DJANGO_SETTINGS_MODULE": "tests.faults.settings"}
    return json.loads(service.python("-m", "tests.faults.steward", word, said=json.dumps(said) + "\n", **cheap))


def _set_day(service: Service, day: Any) -> None:
    draft = service.place / "day.new"
    draft.write_text(day.isoformat(), encoding="ascii")
    draft.replace(service.place / "day")


def _sign_in(service: Service, sign_in_names: dict[str, str]) -> dict[str, str]:
    """Several at once: each password takes its memory while it is looked at."""

    def token(name: str) -> str:
        body = {"sign_in_name": name, "password": PASSWORD}
        answer = httpx.post(f"{service.address}/api/v1/tokens/", json=body, timeout=60)
        assert answer.status_code == 201, answer.text
        return str(answer.json()["token"])

    with ThreadPoolExecutor(AT_ONCE) as hands:
        return dict(zip(sign_in_names, hands.map(token, sign_in_names.values()), strict=True))


def _page_ms(service: Service, *, n_times: int) -> float:
    return round(1000 * median(_page_s(service, number) for number in range(n_times)), 1)


def _page_s(service: Service, number: int) -> float:
    began = time.monotonic()
    answer = httpx.get(service.address + PAGES[number % len(PAGES)], timeout=60)
    assert answer.status_code == 200, answer.text
    return time.monotonic() - began


def _pages_until(service: Service, ending: threading.Event) -> list[float]:
    times = [_page_s(service, 0)]
    while not ending.wait(0.05):
        times.append(_page_s(service, len(times)))
    return times


def _read_edition(service: Service) -> None:
    """What people take of an edition, several at once: pages, sheets, and the package with its pictures."""
    edition = f"{service.address}/groups/{GROUP}/editions/1/"
    paths = ["", "sheet/", "tables/sites.csv", "tables/contrasts.csv", "package.zip", "edition.json"]
    with ThreadPoolExecutor(AT_ONCE) as readers:
        answers = list(readers.map(lambda path: httpx.get(edition + path, timeout=120), paths))
    assert [answer.status_code for answer in answers] == [200] * len(paths)


def one_processor() -> None:
    """Have this process, and whatever it starts, run on one processor."""
    os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
