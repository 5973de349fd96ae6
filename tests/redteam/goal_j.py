"""Goal J: what stands beside the figures tells nothing: answers, sizes and the work behind them, orders, queue, logs.

An attack is first let loose on a naive build: one that refuses what somebody else has uploaded, that lists by arrival,
or that logs an error with its message.
"""

import io
import json
import logging
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any
from unittest.mock import patch
from uuid import uuid4

import numpy as np
from scipy.stats import binomtest

from tests.redteam.registry import Effort, Goal, Line
from tests.redteam.world import fresh_world, headers_of, new_group, new_member
from tests.server.canaries import found_in, reading
from tests.server.records import pairs, raw

UPLOAD = "/api/v1/wears/"
ID = re.compile(rb"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")
FALSE_ALARM = 1e-6


def run(effort: Effort) -> Iterator[Line]:
    with fresh_world():
        yield duplicates(effort)
        yield arrival(effort)
        yield queue(effort)
        yield logs(effort)


# Somebody else's duplicate


def duplicates(effort: Effort) -> Line:
    """Of two answers to the same upload, one of them after somebody else had uploaded it: which is which?

    The attacker sees status, headers, body and size, how much the database was asked, and what comes after: the list,
    the report, giving it to a group. Answers that are the same leave nothing but a coin.
    """
    other, attacker, moderator = new_member(), new_member(), new_member()
    group = new_group("harbour", moderator)
    attacker.put(f"/api/v1/groups/{group.slug}/membership/", {})
    seen_by(attacker, raw(seed=0), group)  # whatever is read once and kept is kept by now
    n_tries = effort.pick(1000, 12)
    ours = advantage(other, attacker, group, n_tries=n_tries, seed=effort.seed)
    with refusing_what_is_there():
        naive = advantage(other, attacker, group, n_tries=effort.pick(50, 4), seed=effort.seed)
    return Line(
        f"somebody else's duplicate, {n_tries:,} tries", _points(naive), _points(ours), naive > 0.4 and ours < 0.02
    )


def _points(advantage: float) -> str:
    return f"advantage {advantage:.3f}"


def advantage(other: Any, attacker: Any, group: Any, *, n_tries: int, seed: int) -> float:
    """How much oftener than a coin the best guess is right."""
    from django.db import transaction

    rng = np.random.default_rng(seed)
    n_told_apart = 0
    for number in range(n_tries):
        body = raw(seed=int(rng.integers(1 << 40)), n_pairs=int(rng.integers(8, 30)))
        with transaction.atomic():
            alone = undone(lambda body=body: seen_by(attacker, body, group))
            answer = post(other, copied(body, number))
            assert answer.status_code == 201
            if number % 2:
                other.put(f"{UPLOAD}{answer.json()['id']}/group/", {"group": "everyone"})
            after = undone(lambda body=body: seen_by(attacker, body, group))
            transaction.set_rollback(True)
        n_told_apart += alone != after
    return n_told_apart / n_tries / 2


def copied(body: bytes, number: int) -> bytes:
    """The other's copy: the same, the same but for its site, or with a pair less."""
    record = json.loads(body)
    if number % 3 == 1:
        record["site"] = "calf"
    if number % 3 == 2:
        record["pairs"] = record["pairs"][:-1]
    return json.dumps(record).encode()


def undone(act: Callable[[], Any]) -> Any:
    from django.db import transaction

    with transaction.atomic():
        result = act()
        transaction.set_rollback(True)
    return result


def post(client: Any, body: bytes) -> Any:
    return client.generic("POST", UPLOAD, body, content_type="application/json", HTTP_IDEMPOTENCY_KEY=uuid4().hex)


def seen_by(attacker: Any, body: bytes, group: Any) -> list[Any]:
    """Everything that an upload and the calls after it show, but for random ids."""
    answers: list[Any] = []
    seen = [asked(lambda: answers.append(post(attacker, body)) or answers[-1])]
    if answers[-1].status_code == 201:
        address = f"{UPLOAD}{answers[-1].json()['id']}/"
        seen.append(asked(lambda: attacker.put(f"{address}group/", {"group": group.slug})))
        seen += [asked(lambda rest=rest: attacker.get(f"{address}{rest}")) for rest in ("", "report/")]
        seen.append(asked(lambda: attacker.delete(address)))
    return [*seen, asked(lambda: attacker.get(UPLOAD))]


def asked(call: Callable[[], Any]) -> tuple[int, int, list[Any], int, bytes]:
    """Status, size, headers, how many statements the database was given, and the body without its random ids."""
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(connection) as statements:
        answer = call()
    return answer.status_code, len(answer.content), headers_of(answer), len(statements), ID.sub(b"ID", answer.content)


@contextmanager
def refusing_what_is_there() -> Iterator[None]:
    """A naive build: the same readings are taken from one account only."""
    from pooling.columns import unpack
    from server.accounts.selectors import wears_held_by
    from server.core.errors import Conflict
    from server.wears.intake import Intake
    from server.wears.models import WearPairs

    take = Intake.take

    def once(intake: Any, body: bytes, *, wearer: Any) -> Any:
        own = [100 * pair["reference"] for pair in json.loads(body)["pairs"]][:7]
        for held in WearPairs.objects.exclude(wear_id__in=wears_held_by(wearer.account)):
            if unpack(bytes(held.block)).reference_hundredths[:7].tolist() == own:
                raise Conflict("This wear is there already.")
        return take(intake, body, wearer=wearer)

    with patch.object(Intake, "take", once):
        yield


# Orders


def arrival(effort: Effort) -> Line:
    """Whoever is listed last came last? Queue, members, own wears, in many small groups."""
    n_people, n_groups = 5, effort.pick(100, 10)
    hits = {"queue": 0, "members": 0, "own wears": 0}
    for number in range(n_groups):
        moderator, owner = new_member(), new_member()
        group = new_group(f"room-{number}", moderator)
        given, members, own = [], [moderator.account], []
        for seed in range(n_people):
            member = new_member()
            member.put(f"/api/v1/groups/{group.slug}/membership/", {})
            members.append(member.account)
            given.append(_given(member, group, seed=1000 * number + seed))
            own.append(post(owner, raw(seed=90_000 + 1000 * number + seed)).json()["id"])
        assert moderator.get(f"/api/v1/groups/{group.slug}/curation/").json()["wears"] == []
        _pass_release_day()
        listed = moderator.get(f"/api/v1/groups/{group.slug}/curation/").json()["wears"]
        hits["queue"] += listed[-1]["wear"] == given[-1]
        hits["members"] += _listed_members(moderator, group)[-1] == _pseudonym(group, members[-1])
        hits["own wears"] += owner.get(UPLOAD).json()["wears"][-1]["id"] == own[-1]
    chances = {"queue": 1 / n_people, "members": 1 / (n_people + 1), "own wears": 1 / n_people}
    likely = min(binomtest(hits[name], n_groups, chances[name]).pvalue for name in hits)
    shares = ", ".join(f"{hits[name] / n_groups:.2f}" for name in hits)
    attack = f"the last one listed came last ({n_groups} groups)"
    return Line(attack, "1.00, 1.00, 1.00", shares, bool(likely > FALSE_ALARM))


def _pass_release_day() -> None:
    from server.core import clock
    from server.curation.models import ReleaseDay
    from server.curation.release import release_batches
    from server.wears.copies import look_for_copies

    ReleaseDay.objects.all().delete()
    look_for_copies()
    release_batches(clock.today())


def _given(member: Any, group: Any, *, seed: int) -> str:
    wear: str = post(member, raw(seed=seed)).json()["id"]
    member.put(f"{UPLOAD}{wear}/group/", {"group": group.slug})
    return wear


def _listed_members(moderator: Any, group: Any) -> list[str]:
    (rows,) = (v for v in moderator.get(f"/api/v1/groups/{group.slug}/members/").json().values() if isinstance(v, list))
    return [row.get("member") or row["id"] for row in rows]


def _pseudonym(group: Any, account: Any) -> str:
    from server.groups.models import Membership

    return str(Membership.objects.get(group=group, account=account).pk)


# Queue and logs


def queue(effort: Effort) -> Line:
    """What the queue carries while a cut-off passes and drafts are made: the ids of rows, each alone."""
    from server.core import services
    from server.core.models import Job

    sent: list[Any] = []
    with patch.object(services.app, "send_task", lambda name, args=(), **more: sent.append((name, args, more))):
        for _ in range(effort.pick(200, 20)):
            services.enqueue("editions.assemble_draft", subject=uuid4())
    jobs = {str(pk) for pk in Job.objects.values_list("pk", flat=True)}
    odd = [
        each for each in sent if each[0] != services.RUN_JOB or each[2] or len(each[1]) != 1 or each[1][0] not in jobs
    ]
    Job.objects.all().delete()
    return Line(f"more than an id on the queue ({len(sent)} messages)", "-", f"{len(odd)}", bool(sent) and not odd)


def logs(effort: Effort) -> Line:
    """Readings in log lines, where each step of an upload fails with the reading in its error."""
    from server.core.logs import WithoutValues

    rng = np.random.default_rng(effort.seed)
    values = [round(float(value), 2) for value in rng.uniform(80, 300, effort.pick(60, 8))]
    outcomes = {
        name: _logged(form, values) for name, form in (("naive", logging.Formatter()), ("ours", WithoutValues()))
    }
    return Line(
        f"readings in log lines ({len(values)} failures)",
        f"{outcomes['naive']} found",
        f"{outcomes['ours']} found",
        outcomes["ours"] == 0 < outcomes["naive"],
    )


STEPS = ("columns_from", "pack", "find", "bands_of", "header_of")


def _logged(form: logging.Formatter, values: list[float]) -> int:
    """How many of the readings stand in the log afterwards."""
    from server.wears import intake

    client, stream = new_member(), io.StringIO()
    client.raise_request_exception = False
    handler = logging.StreamHandler(stream)
    handler.setFormatter(form)
    root = logging.getLogger()
    before, root.handlers = root.handlers, [handler]
    try:
        for number, value in enumerate(values):
            body = raw(pairs=[{**pair, "reference": value} for pair in pairs(9)])

            def fails(*_: Any, value: float = value, **__: Any) -> Any:
                raise ValueError(f"cannot take {value:.2f}")

            with patch.object(intake, STEPS[number % len(STEPS)], fails):
                assert post(client, body).status_code == 500
    finally:
        root.handlers = before
    text = stream.getvalue().encode()
    return sum(bool(found_in(text, [reading(value)])) for value in values)


GOAL = Goal("J", "Answers, sizes, orders, queue and logs tell nothing about anybody.", run)
