"""The same work on one machine's worth of processes and on three: the same bytes, and what it saves in time.

Web processes, workers and sweeps each have a folder and a port of their own, as if each were a machine; what they share
is what docs/OPERATIONS.md says: database, broker, keys file, journal, signing key.
"""

import json
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass, field

import httpx
from prometheus_client.parser import text_string_to_metric_families

from server.editions.calendar import cut_off_of
from tests.faults.clients import Moderator
from tests.faults.machines import PATIENCE_S, Machines, Size, machines, told
from tests.faults.run import FIRST_CUT_OFF, FOUNDED_ON, Outcome, Plan, Story

Say = Callable[[str], None]
N = 3


@dataclass
class Comparison:
    """What was seen on one worker and on all of them."""

    n_uploads: int
    draft_s: dict[str, list[float]] = field(default_factory=dict)
    documents: set[str] = field(default_factory=set)
    published: str = ""
    undisturbed: str = ""
    requests_by_web: list[int] = field(default_factory=list)
    jobs_by_worker: list[int] = field(default_factory=list)
    jobs: dict[str, int] = field(default_factory=dict)

    @property
    def speed_up(self) -> float:
        return min(self.draft_s["one"]) / min(self.draft_s["all"])

    @property
    def is_same(self) -> bool:
        return len(self.documents) == 1 and self.published == self.undisturbed != ""

    def as_json(self) -> str:
        return json.dumps(asdict(self) | {"documents": len(self.documents), "is_same": self.is_same}, indent=1)


def compare(n_uploads: int, n_people: int, *, seed: int, n_times: int, say: Say = lambda _: None) -> Comparison:
    """Uploads over three web processes, a cut-off that three sweeps would pass, drafts by one worker and by three."""
    size = Size(n_web=N, n_workers=N, n_sweeps=N, processes=1)
    plan = Plan(n_uploads, n_editions=1, n_kills=0, n_people=n_people, seed=seed, size=size)
    seen = Comparison(n_uploads)
    day = FOUNDED_ON.isoformat()
    with machines(size, first_cut_off=FIRST_CUT_OFF.isoformat(), day=day, seed=seed) as on:
        story = Story(plan, on, Outcome(plan), say)
        (uploads,) = story.begin()
        token, _ = story.bring(1, uploads)
        seen.requests_by_web = [_requests(address) for address in on.addresses]
        on.set_day(cut_off_of(1, first=FIRST_CUT_OFF).isoformat())
        moderator = Moderator(story.caller, token)
        if n_times:
            moderator.discard(moderator.drafted(1))  # the cut-off is passed, and everybody has warmed up
        for _ in range(n_times):
            for name, helpers in (("all", ()), ("one", _helpers(on))):
                with_workers(story, N - len(helpers))
                seen.draft_s.setdefault(name, []).append(_draft(moderator, seen, last=False))
                say(f"drafted by {name} in {seen.draft_s[name][-1]:.1f} s")
        if n_times:
            with_workers(story, N)
        _draft(moderator, seen, last=True)
        seen.jobs_by_worker = sorted(told(story.steward("workers")).values())  # type: ignore[attr-defined]
        seen.published = moderator.publish(1)
        seen.undisturbed = story.undisturbed(1)
        seen.jobs = told(story.steward("state"))["jobs"]  # type: ignore[index]
    return seen


def _helpers(on: Machines) -> tuple[str, ...]:
    return tuple(name for name in sorted(on.parts) if name.startswith("worker"))[1:]


def with_workers(story: Story, n_wanted: int) -> None:
    """Have so many workers answer, no more and no fewer."""
    for number, name in enumerate(("worker1", *_helpers(story.on))):
        story.on.let_up(name) if number < n_wanted else story.on.take_down(name)
    deadline = time.monotonic() + PATIENCE_S
    while len(told(story.steward("workers"))) != n_wanted:  # type: ignore[arg-type]
        if time.monotonic() > deadline:
            raise RuntimeError(f"there are not {n_wanted} workers")


def _draft(moderator: Moderator, seen: Comparison, *, last: bool) -> float:
    """Seconds from the order to the finished draft, whose document is noted."""
    began = time.monotonic()
    address = moderator.drafted(1)
    draft = moderator.finished(address)
    took_s = time.monotonic() - began
    assert draft["state"] == "ready", draft["reasons"]
    seen.documents.add(json.dumps(draft["document"], sort_keys=True))
    if not last:
        moderator.discard(address)
    return took_s


def _requests(address: str) -> int:
    families = text_string_to_metric_families(httpx.get(f"{address}/metrics").text)
    return int(sum(one.value for family in families for one in family.samples if one.name.endswith("requests_total")))
