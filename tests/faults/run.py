"""The run with faults: uploads and editions while processes are killed, and then what became of them.

Every process may be killed at any moment, but while a copy of the database is taken before each cut-off. From that copy
the same cut-off and the same edition are made again afterwards, by one process that nobody disturbs.
"""

import json
import shutil
import subprocess
import threading
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from datetime import date, timedelta
from pathlib import Path
from random import Random
from typing import Any

import numpy as np

from pooling.simulate import DEMO_MODELS, GroupPlan, simulate_community
from server.editions.calendar import cut_off_of
from tests.faults.clients import Caller, Moderator, Upload, send_all
from tests.faults.machines import Killer, Machines, Size, machines, postgresql_programs, told
from tests.faults.steward import GROUP

FIRST_CUT_OFF = date(2031, 3, 1)
FOUNDED_ON = date(2031, 1, 5)
SITES = ("thigh.front", "abdomen.flank", "upper_arm.back")
AT_ONCE = 4
Say = Callable[[str], None]


@dataclass(frozen=True)
class Plan:
    """How much is done, and how often it is disturbed."""

    n_uploads: int = 10_000
    n_editions: int = 20
    n_kills: int = 200
    n_people: int = 250
    seed: int = 1
    size: Size = field(default_factory=Size)


@dataclass
class Outcome:
    """What was acknowledged, what there was in the end, and what was done meanwhile."""

    plan: Plan
    n_acknowledged: int = 0
    n_lost: int = 0
    n_beyond: int = 0
    n_counted: int = 0
    n_counted_twice: int = 0
    editions: dict[int, str] = field(default_factory=dict)
    undisturbed: dict[int, str] = field(default_factory=dict)
    kills: dict[str, int] = field(default_factory=dict)
    n_sent_again: int = 0
    jobs: dict[str, int] = field(default_factory=dict)
    took_s: float = 0.0

    @property
    def differing(self) -> list[int]:
        return [slot for slot, sha256 in self.undisturbed.items() if self.editions.get(slot) != sha256]

    @property
    def is_clean(self) -> bool:
        return (
            not (self.n_lost or self.n_beyond or self.n_counted_twice or self.differing)
            and len(self.undisturbed) == len(self.editions) == self.plan.n_editions
            and not self.jobs.get("failed")
        )

    def as_json(self) -> str:
        return json.dumps(asdict(self) | {"differing": self.differing, "is_clean": self.is_clean}, indent=1)


def uploads_of(plan: Plan) -> list[list[Upload]]:
    """For each slot the wears that come in before it: the same ones for the same plan."""
    community = simulate_community(
        np.random.default_rng(plan.seed),
        groups=[GroupPlan(GROUP, plan.n_people)],
        sites=SITES,
        sensor_models=DEMO_MODELS[:2],
        slots=plan.n_editions,
        wears_per_person=1.3 * plan.n_uploads / plan.n_people,
    )
    slots: list[list[Upload]] = [[] for _ in range(plan.n_editions)]
    most = plan.n_uploads // plan.n_editions
    for number, wear in enumerate(community.wears):
        if len(slots[wear.slot - 1]) < most and wear.wearer.endswith("/self"):
            record = wear.record | {"assignment": "chosen", "plan": None}
            slots[wear.slot - 1].append(Upload(f"upload-{number}", wear.person, record))
    return slots


def run(plan: Plan, say: Say = lambda _: None, *, keep: bool = False) -> Outcome:
    """All of it, in a service of its own."""
    began = time.monotonic()
    outcome = Outcome(plan)
    day = FOUNDED_ON.isoformat()
    with machines(plan.size, first_cut_off=FIRST_CUT_OFF.isoformat(), day=day, seed=plan.seed, keep=keep) as on:
        say(f"ready in {time.monotonic() - began:.0f} s, in {on.place}")
        story = Story(plan, on, outcome, say)
        story.play()
        story.look_back()
    outcome.took_s = time.monotonic() - began
    return outcome


class Story:
    """Months of uploads, approvals, cut-offs and editions."""

    def __init__(self, plan: Plan, on: Machines, outcome: Outcome, say: Say) -> None:
        self.plan, self.on, self.outcome, self.say = plan, on, outcome, say
        self.rng = Random(plan.seed)
        self.caller = Caller(on.addresses)
        on.at_the_end.append(self.caller.client.close)
        self.killer = Killer(on, self.rng)
        self.acknowledged: dict[str, str] = {}
        self.strikes: list[threading.Thread] = []

    def play(self) -> None:
        slots = self.begin()
        for slot, uploads in enumerate(slots, 1):
            self._month(slot, uploads)
        self._settle()

    def begin(self) -> list[list[Upload]]:
        """Everybody joins; what they will bring, slot by slot."""
        slots = uploads_of(self.plan)
        names = sorted({upload.member for uploads in slots for upload in uploads})
        self.on.python("-m", "tests.faults.steward", "catalogue", DATABASE_URL=self.on.database_url)
        told_people: Any = told(self.steward("people", said=json.dumps(names)))
        self.sign_in_names = {**told_people["members"], "": told_people["moderator"]}
        return slots

    def _month(self, slot: int, uploads: list[Upload]) -> None:
        token, n_later = self.bring(slot, uploads)
        self.on.set_day(cut_off_of(slot, first=FIRST_CUT_OFF).isoformat())
        self._strike(n_later)
        self.outcome.editions[slot] = Moderator(self.caller, token).publish(slot)
        self._settle()
        self.say(
            f"edition {slot}: {self.outcome.editions[slot][:12]}, {len(self.acknowledged)} uploads acknowledged, "
            f"kills {self.killer.done}, {self.caller.n_again} requests sent again, {self.on.n_restarts} restarts"
        )

    def bring(self, slot: int, uploads: list[Upload]) -> tuple[str, int]:
        """Uploads on a day ten days before the cut-off, release and approval on the Monday after, and a copy.

        Returns the moderator's token, and how many kills are left for the time in which the edition is made.
        """
        brought_on = cut_off_of(slot, first=FIRST_CUT_OFF) - timedelta(days=10)
        self.on.set_day(brought_on.isoformat())
        tokens = self.tokens()
        strike_at, n_later = self._points(slot, len(uploads))
        self.acknowledged |= send_all(
            uploads, self.caller, tokens, n_at_once=AT_ONCE, before=lambda number: self._strike(strike_at[number])
        )
        self.steward("look")
        self.on.set_day((brought_on + timedelta(days=7 - brought_on.weekday())).isoformat())
        self.steward("approve")
        self._settle()
        self._copy(slot)
        return tokens[""], n_later

    def _points(self, slot: int, n_uploads: int) -> tuple[Counter[int], int]:
        """How many kills before which upload of this month, and how many while its edition is made."""
        n_kills = (
            self.plan.n_kills * slot // self.plan.n_editions - self.plan.n_kills * (slot - 1) // self.plan.n_editions
        )
        n_later = min(n_kills, 1 + n_kills // 4)
        return Counter(self.rng.randrange(n_uploads) for _ in range(n_kills - n_later)), n_later

    def _strike(self, n_times: int) -> None:
        """Kill without waiting for it, as faults come."""
        for _ in range(n_times):
            thread = threading.Thread(target=self.killer.strike)
            thread.start()
            self.strikes.append(thread)

    def _settle(self) -> None:
        for thread in self.strikes:
            thread.join()
        self.strikes.clear()

    def tokens(self) -> dict[str, str]:
        names = sorted(self.sign_in_names)
        said = json.dumps([self.sign_in_names[name] for name in names])
        given: Any = told(self.steward("tokens", said=said))
        return dict(zip(names, given, strict=True))

    def steward(self, *words: str, said: str = "", tries: int = 20) -> str:
        """From inside; where a database that was killed cut it short, once more."""
        command = ("-m", "tests.faults.steward", *words)
        while True:
            try:
                return self.on.python(*command, said=said)
            except RuntimeError:
                tries -= 1
                if not tries:
                    raise
                time.sleep(1)

    # Afterwards

    def _copy(self, slot: int) -> None:
        """The database as it stands before a cut-off, by one who can only read it, and its journal."""
        folder = self.on.place / f"before-{slot}"
        folder.mkdir()
        self.on.wait_until_ready()
        address = self.on.signed_in("commonwear_backup")
        subprocess.run([postgresql_programs() / "pg_dump", "-Fc", "-f", folder / "dump", address], check=True)
        journal = Path(self.on.environment["COMMONWEAR_ERASURE_JOURNAL"])
        if journal.exists():
            shutil.copy(journal, folder / "erasures.journal")

    def look_back(self) -> None:
        """Compare what there is with what was acknowledged, and each edition with the undisturbed one."""
        outcome = self.outcome
        self.on.wait_until_ready()
        there: Any = told(self.steward("state"))
        kept, known = set(there["wears"]), set(self.acknowledged.values())
        outcome.n_acknowledged, outcome.n_lost, outcome.n_beyond = len(known), len(known - kept), len(kept - known)
        outcome.n_counted = there["n_counted_for_accuracy"]
        outcome.n_counted_twice = max(0, outcome.n_counted - there["by_state"].get("admitted", 0))
        outcome.jobs = there["jobs"]
        outcome.kills, outcome.n_sent_again = dict(self.killer.done), self.caller.n_again
        for slot in outcome.editions:
            outcome.undisturbed[slot] = self.undisturbed(slot)
            self.say(f"undisturbed edition {slot}: {outcome.undisturbed[slot][:12]}")

    def undisturbed(self, slot: int) -> str:
        folder = self.on.place / f"before-{slot}"
        (folder / "day").write_text(self.on.day_file.read_text(encoding="ascii"), encoding="ascii")
        name = f"before_{slot}"
        administrator = self.on.signed_in("postgres")
        programs = postgresql_programs()
        subprocess.run([programs / "psql", "-qc", f"CREATE DATABASE {name}", administrator], check=True)
        there = self.on.signed_in("postgres", database=name)
        subprocess.run([programs / "pg_restore", "-d", there, folder / "dump"], check=True)
        calm = self.on.python(
            *("-m", "tests.faults.steward", "calm", str(slot)),
            DATABASE_URL=self.on.signed_in("commonwear_service", database=name),
            COMMONWEAR_CLOCK_FILE=str(folder / "day"),
            COMMONWEAR_ERASURE_JOURNAL=str(folder / "erasures.journal"),
        )
        return str(told(calm))
