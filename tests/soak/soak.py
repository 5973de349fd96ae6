"""Mixed traffic at twice the rate that the service can sustain, for as long as it is told, and what grows meanwhile.

Members upload, give, look at their list and take wears back, readers open the group's page, and months pass with an
edition each. What finds no room is told so by the service itself (503); what is let in has to be answered. Times are
told as ratios to a bare view when idle.
"""

import itertools
import json
import os
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass, field
from datetime import timedelta
from http import HTTPStatus
from pathlib import Path
from random import Random
from statistics import median, quantiles
from typing import Any

import httpx
import psycopg
import redis

from server.editions.calendar import cut_off_of
from tests.faults.clients import Moderator, Upload
from tests.faults.machines import Machines, Size, machines
from tests.faults.run import FIRST_CUT_OFF, FOUNDED_ON, Outcome, Plan, Story
from tests.faults.steward import GROUP

Say = Callable[[str], None]
UNDER_WAY = 8  # as many as `web` has room for, unless it is told otherwise
CALLERS = 64  # more than come together before the service tells the rest to come back
SAMPLE_S = 5.0
MOST_GROWTH = 1.15
HELD = """SELECT (SELECT count(*) FROM pg_stat_activity WHERE datname IS NOT NULL),
                 (SELECT count(*) FROM core_job WHERE state IN ('due', 'running'))"""
PARTS = ("web1", "worker1", "sweep1", "broker")
# Nearly as much is taken back as is brought, so that hours of it do not leave a few people with thousands of wears.
MIX = ("upload",) * 8 + ("give",) * 3 + ("list",) * 2 + ("take back",) * 5 + ("page",) * 2
MOST_REFUSED = 0.05  # of what was let in: a wear that is given while it is taken back


@dataclass
class Sample:
    """How much of everything there was at one moment."""

    at_s: float
    memory_mib: dict[str, float]
    n_connections: int
    n_queued: int
    n_due: int


@dataclass
class Soaked:
    """What was offered, what was let in, how long it took, and what grew."""

    minutes: float
    n_editions_wanted: int = 0
    sustainable_per_s: float = 0.0
    offered_per_s: float = 0.0
    n_let_in: int = 0
    n_turned_away: int = 0
    broken_off: dict[str, int] = field(default_factory=dict)
    statuses: dict[int, int] = field(default_factory=dict)
    editions: int = 0
    idle_bare_ms: float = 0.0
    times_of_bare: dict[str, dict[str, float]] = field(default_factory=dict)
    growth: dict[str, float] = field(default_factory=dict)
    most: dict[str, float] = field(default_factory=dict)

    @property
    def is_steady(self) -> bool:
        """No growth, and what was let in was answered: by no fault of the service, and nearly always as asked."""
        grew = any(ratio > MOST_GROWTH for ratio in self.growth.values())
        refused = sum(n for status, n in self.statuses.items() if status >= HTTPStatus.BAD_REQUEST)
        faults = any(status >= HTTPStatus.INTERNAL_SERVER_ERROR for status in self.statuses)
        whole = self.editions == self.n_editions_wanted and not self.broken_off
        return whole and not (grew or faults) and refused <= MOST_REFUSED * self.n_let_in

    def as_json(self) -> str:
        return json.dumps(asdict(self) | {"is_steady": self.is_steady}, indent=1)


class Traffic:
    """Requests of all kinds, with how long each took."""

    def __init__(self, on: Machines, uploads: list[Upload], tokens: dict[str, str], rng: Random) -> None:
        self.on, self.tokens, self.rng = on, tokens, rng
        self.uploads = _without_end(uploads)
        self.kept: list[tuple[str, str]] = []
        self.took: list[tuple[float, str, float]] = []
        self.statuses: Counter[int] = Counter()
        self.broken_off: Counter[str] = Counter()
        self.n_turned_away = 0
        self.lock = threading.Lock()
        self.own = threading.local()

    def begin(self) -> None:
        """Count from now on."""
        self.took.clear()
        self.statuses.clear()
        self.broken_off.clear()
        self.n_turned_away = 0

    def request(self, kind: str) -> None:
        if not hasattr(self.own, "client"):
            self.own.client = httpx.Client(timeout=60, base_url=self.on.addresses[0])
        with self.lock:
            method, path, member, given = self._of(kind)
        headers = {"Authorization": f"Bearer {self.tokens[member]}", **given.pop("headers", {})}
        began = time.monotonic()
        try:
            answer = self.own.client.request(method, path, headers=headers, **given)
        except httpx.TransportError as fault:
            with self.lock:
                self.broken_off[f"{type(fault).__name__}: {kind}"] += 1
            return
        with self.lock:
            if answer.status_code == HTTPStatus.SERVICE_UNAVAILABLE:
                self.n_turned_away += 1
                return
            self.took.append((began, kind, time.monotonic() - began))
            self.statuses[answer.status_code] += 1
            if kind == "upload" and answer.status_code == 201:
                self.kept.append((member, answer.json()["id"]))

    def _of(self, kind: str) -> tuple[str, str, str, dict[str, Any]]:
        if kind == "upload" or (kind in ("give", "take back") and not self.kept):
            upload = next(self.uploads)
            headers = {"Idempotency-Key": upload.key, "Content-Type": "application/json"}
            return "POST", "/api/v1/wears/", upload.member, {"content": json.dumps(upload.record), "headers": headers}
        if kind == "give":
            member, wear = self.rng.choice(self.kept)
            return "PUT", f"/api/v1/wears/{wear}/group/", member, {"json": {"group": GROUP}}
        if kind == "take back":
            member, wear = self.kept.pop(self.rng.randrange(len(self.kept)))
            return "DELETE", f"/api/v1/wears/{wear}/", member, {}
        member = self.rng.choice(sorted(self.tokens))
        return "GET", "/api/v1/wears/" if kind == "list" else f"/groups/{GROUP}/", member, {}


def _without_end(uploads: list[Upload]) -> Iterator[Upload]:
    """The wears again and again, each time with readings that differ a little."""
    for turn in itertools.count():
        for upload in uploads:
            pairs = [
                pair | ({"sensor": round(pair["sensor"] + 0.01 * turn, 2)} if pair["sensor"] is not None else {})
                for pair in upload.record["pairs"]
            ]
            yield Upload(f"{upload.key}-{turn}", upload.member, upload.record | {"pairs": pairs})


def soak(
    minutes: float, *, n_people: int = 40, seed: int = 1, n_editions: int = 3, say: Say = lambda _: None
) -> Soaked:
    """All of it, in a service of its own with one web process and one worker."""
    size = Size(processes=1)
    plan = Plan(n_people * 25, n_editions=1, n_kills=0, n_people=n_people, seed=seed, size=size)
    seen, day = Soaked(minutes, n_editions), FOUNDED_ON.isoformat()
    with machines(size, first_cut_off=FIRST_CUT_OFF.isoformat(), day=day, seed=seed) as on:
        story = Story(plan, on, Outcome(plan), say)
        (uploads,) = story.begin()
        traffic = Traffic(on, uploads, {}, Random(seed))
        _turn_to(story, traffic, slot=1)
        seen.idle_bare_ms = 1000 * median(_bare_s(on))
        seen.sustainable_per_s = _sustainable(traffic, for_s=min(30.0, 6 * minutes))
        seen.offered_per_s = 2 * seen.sustainable_per_s
        say(f"a bare view takes {seen.idle_bare_ms:.1f} ms, and {seen.sustainable_per_s:.1f} requests/s are sustained")
        traffic.begin()
        samples = _offer(story, traffic, seen, minutes * 60, n_editions)
    _judge(seen, traffic, samples)
    return seen


def _bare_s(on: Machines, n_times: int = 300) -> Iterator[float]:
    """How long a view takes that does nothing, over a connection that is open."""
    with httpx.Client(base_url=on.addresses[0]) as client:
        for _ in range(n_times):
            began = time.monotonic()
            client.get("/health/live")
            yield time.monotonic() - began


def _turn_to(story: Story, traffic: Traffic, *, slot: int) -> None:
    """Ten days before a cut-off, with everybody signed in."""
    story.on.set_day((cut_off_of(slot, first=FIRST_CUT_OFF) - timedelta(days=10)).isoformat())
    traffic.tokens |= story.tokens()


def _sustainable(traffic: Traffic, *, for_s: float) -> float:
    """Requests a second that are answered while as many as allowed are always under way."""
    end, done = time.monotonic() + for_s, itertools.count()

    def work() -> None:
        while time.monotonic() < end:
            traffic.request(traffic.rng.choice(MIX))
            next(done)

    threads = [threading.Thread(target=work) for _ in range(UNDER_WAY)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return next(done) / for_s


def _offer(story: Story, traffic: Traffic, seen: Soaked, for_s: float, n_editions: int) -> list[Sample]:
    """Offer twice as much as can be sustained, and let months pass meanwhile."""
    began = time.monotonic()
    months = threading.Thread(target=_months, args=(story, traffic, seen, began, for_s, n_editions), daemon=True)
    months.start()
    samples: list[Sample] = []
    threading.Thread(target=_watch, args=(story.on, samples, began, for_s), daemon=True).start()

    due, hands = began, ThreadPoolExecutor(CALLERS)
    while (now := time.monotonic()) < began + for_s:
        due += traffic.rng.expovariate(seen.offered_per_s)
        time.sleep(max(0.0, due - now))
        hands.submit(traffic.request, traffic.rng.choice(MIX))
    hands.shutdown()
    seen.n_let_in, seen.n_turned_away = len(traffic.took), traffic.n_turned_away
    seen.broken_off = dict(traffic.broken_off)
    months.join()
    return samples


def _months(story: Story, traffic: Traffic, seen: Soaked, began: float, for_s: float, n_editions: int) -> None:
    """At even times: the batch of a Monday is approved, a cut-off passes, and an edition is published."""
    for slot in range(1, n_editions + 1):
        time.sleep(max(0.0, began + for_s * slot / (n_editions + 1) - time.monotonic()))
        story.steward("look")
        cut_off = cut_off_of(slot, first=FIRST_CUT_OFF)
        brought_on = cut_off - timedelta(days=10)
        story.on.set_day((brought_on + timedelta(days=7 - brought_on.weekday())).isoformat())
        story.steward("approve")
        story.on.set_day(cut_off.isoformat())
        Moderator(story.caller, traffic.tokens[""]).publish(slot)
        seen.editions += 1
        statuses = ", ".join(f"{n} x {status}" for status, n in sorted(traffic.statuses.items()))
        story.say(f"edition {slot} is published; answers so far: {statuses}")
        _turn_to(story, traffic, slot=slot + 1)


def _watch(on: Machines, samples: list[Sample], began: float, for_s: float) -> None:
    with psycopg.connect(on.database_url, autocommit=True) as database, redis.Redis.from_url(on.broker_url) as broker:
        while (at_s := time.monotonic() - began) < for_s:
            n_connections, n_due = database.execute(HELD).fetchone()  # type: ignore[misc]
            memory = {name: _memory_mib(on, name) for name in PARTS}
            samples.append(Sample(at_s, memory, n_connections, int(broker.llen("celery")), n_due))  # type: ignore[arg-type]
            time.sleep(SAMPLE_S)


def _memory_mib(on: Machines, name: str) -> float:
    """Resident memory of a part and of all that it started."""
    process = on.parts[name].process
    assert process is not None
    pages = 0
    for entry in Path("/proc").iterdir():
        if entry.name.isdecimal():
            try:
                if os.getpgid(int(entry.name)) == process.pid:
                    pages += int((entry / "statm").read_text().split()[1])
            except (ProcessLookupError, FileNotFoundError):
                continue
    return pages * os.sysconf("SC_PAGE_SIZE") / 2**20


def _judge(seen: Soaked, traffic: Traffic, samples: list[Sample]) -> None:
    """The last third beside the middle one: the first one warms up."""
    third = len(samples) // 3
    middle, last = samples[third : 2 * third], samples[2 * third :]
    measures: dict[str, Callable[[Sample], float]] = {
        **{f"memory of {name}": lambda one, name=name: one.memory_mib[name] for name in PARTS},  # type: ignore[misc]
        "connections": lambda one: one.n_connections,
        "queue": lambda one: one.n_queued + one.n_due + 1,
    }
    for name, measure in measures.items():
        seen.growth[name] = round(median(map(measure, last)) / median(map(measure, middle)), 3)
        seen.most[name] = round(max(map(measure, samples)), 1)
    seen.statuses = dict(traffic.statuses)
    for kind in dict.fromkeys(MIX):
        took_ms = sorted(1000 * took for _, of, took in traffic.took if of == kind)
        if len(took_ms) > 1:
            p99 = quantiles(took_ms, n=100, method="inclusive")[98]
            times = {"median": median(took_ms), "p99": p99}
            seen.times_of_bare[kind] = {name: round(ms / seen.idle_bare_ms, 1) for name, ms in times.items()}
