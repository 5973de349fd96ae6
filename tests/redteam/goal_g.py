"""Goal G: nobody's mean is got out of published figures any better than by guessing the published mean.

Each room is a group of its own in which eight people wear one sensor model at one site, three people wear another model
there (too few to be shown), and newcomers arrive before the second edition: one, or seven at once. The attacker knows
who they are, how many people stand behind each figure to the man, and every figure ever published; a naive build
publishes means of people to a tenth of a point, at once, with everybody in them.
"""

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import numpy as np

from tests.redteam.registry import Effort, Goal, Line
from tests.redteam.world import fresh_world, new_member
from tests.server.releasing import approve_at_once

SITE, SHOWN_MODEL, HIDDEN_MODEL = "thigh.front", "demo-a14", "demo-b10"
N_RESIDENTS, N_HIDDEN = 8, 3
NEWCOMERS = (1, 7)
POINT, MARGIN = 1.0, 0.05
DAYS = {1: (date(2031, 2, 10), date(2031, 3, 1)), 2: (date(2031, 3, 10), date(2031, 4, 1))}


@dataclass
class Room:
    """A group, everybody's own mean in it (in points of MARD), and what was published."""

    group: Any
    moderator: Any
    residents: list[dict[str, Any]]
    hidden: list[dict[str, Any]]
    newcomers: list[dict[str, Any]]
    published: dict[int, dict[str, Any]] = field(default_factory=dict)


def run(effort: Effort) -> Iterator[Line]:
    with fresh_world() as day:
        rooms = _furnished(np.random.default_rng(effort.seed), effort.pick(200, 6), day)
        yield _judged("a newcomer, alone", [r for r in rooms if len(r.newcomers) == 1], _newcomer, effort)
        yield _judged("a newcomer among seven", [r for r in rooms if len(r.newcomers) > 1], _newcomer, effort)
        yield _judged("three people of a hidden cell", rooms, _hidden, effort)


# The rooms


def _furnished(rng: np.random.Generator, n_rooms: int, day: Any) -> list[Room]:
    from server.editions.admission import run_cut_off

    rooms = [_room(rng, number) for number in range(n_rooms)]
    for slot, (before, cut_off) in DAYS.items():
        day.write_text(before.isoformat())
        for room in rooms:
            for record in [*room.residents, *room.hidden] if slot == 1 else room.newcomers:
                _bring(room, record)
        day.write_text(cut_off.isoformat())
        assert run_cut_off(slot)
        for room in rooms:
            room.published[slot] = _publish(room)
    return rooms


def _room(rng: np.random.Generator, number: int) -> Room:
    from server.groups.services import found_group

    moderator = new_member()
    group = found_group(
        founder=moderator.account,
        slug=f"room-{number}",
        name=f"Room {number}",
        public=True,
        feeds_everyone=False,
        wearers="mixed",
    )
    by_model = _wears(rng)
    n_new = NEWCOMERS[number % 2]
    shown, hidden = by_model[SHOWN_MODEL], by_model[HIDDEN_MODEL]
    return Room(group, moderator, shown[:N_RESIDENTS], hidden[:N_HIDDEN], shown[N_RESIDENTS:][:n_new])


def _wears(rng: np.random.Generator) -> dict[str, list[dict[str, Any]]]:
    """One wear each of many people under one law, by sensor model."""
    from pooling.simulate import DEMO_MODELS, GroupPlan, simulate_community

    models = [model for model in DEMO_MODELS if model.slug in (SHOWN_MODEL, HIDDEN_MODEL)]
    plan = [GroupPlan("room", 60)]
    invented = simulate_community(rng, groups=plan, sites=(SITE,), sensor_models=models, slots=1, wears_per_person=2.0)
    first = {wear.person: wear.record for wear in reversed(invented.wears) if len(wear.record["pairs"]) >= 8}
    chosen = {slug: [r for r in first.values() if r["sensor_model"] == slug] for slug in (SHOWN_MODEL, HIDDEN_MODEL)}
    assert len(chosen[SHOWN_MODEL]) >= N_RESIDENTS + max(NEWCOMERS)
    assert len(chosen[HIDDEN_MODEL]) >= N_HIDDEN
    return chosen


def _bring(room: Room, record: dict[str, Any]) -> None:
    from server.accounts.selectors import wearer_of
    from server.groups.services import join_group
    from server.wears.services import accept_upload, give_to_group

    account = new_member().account
    account.joined_on = date(2031, 1, 5)
    account.save(update_fields=["joined_on"])
    join_group(room.group, account=account)
    wear = accept_upload(json.dumps(record).encode(), account=account, wearer=wearer_of(account, None)).wear
    give_to_group(wear.pk, account=account, group=room.group)
    approve_at_once(room.group, wear.pk, by=room.moderator.account)


def _publish(room: Room) -> dict[str, Any]:
    from server.core.models import Job
    from server.core.services import run_job
    from server.editions.services import publish_draft, start_draft

    draft = start_draft(room.group, by=room.moderator.account)
    while (job := Job.objects.filter(state=Job.State.DUE).first()) is not None:
        run_job(job.pk)
    document: dict[str, Any] = json.loads(
        bytes(publish_draft(room.group, draft.pk, by=room.moderator.account).document)
    )
    return document


# Truth, and what either build publishes


def own_mean(record: dict[str, Any]) -> float:
    """A person's own mean absolute relative difference, in points."""
    pairs = [pair for pair in record["pairs"] if pair.get("sensor") is not None and pair["prompt"] != "calibration"]
    return float(np.mean([100 * abs(pair["sensor"] / pair["reference"] - 1) for pair in pairs]))


def means(records: list[dict[str, Any]]) -> float:
    return float(np.mean([own_mean(record) for record in records]))


def ours(room: Room, slot: int, table: str, model: str | None = None) -> float:
    rows = [row for row in room.published[slot]["tables"][table] if row["site"] == SITE]
    return float(next(row for row in rows if row.get("sensor_model") == model)["mard_pct"]["value"])


@dataclass(frozen=True)
class Tries:
    """What three attackers say of some people's own means: on a naive build, on ours, and by guessing."""

    truth: list[float]
    naive: float
    ours: list[float]
    guess: float


def _newcomer(room: Room) -> Tries:
    """Two editions, before and after: n times the mean, less what it was. On ours the mean of those who came, too."""
    n_before, n_after = N_RESIDENTS, N_RESIDENTS + len(room.newcomers)
    before, after = ours(room, 1, "sites"), ours(room, 2, "sites")
    shared = (n_after * after - n_before * before) / len(room.newcomers)
    one_by_one = (n_before + 1) * after - n_before * before
    joined = [*room.residents, room.newcomers[0]]
    naive = (n_before + 1) * round(means(joined), 1) - n_before * round(means(room.residents), 1)
    return Tries([own_mean(record) for record in room.newcomers], naive, [shared, one_by_one], before)


def _hidden(room: Room) -> Tries:
    """The site less the model that is shown at it leaves the model that is not."""
    n_all = N_RESIDENTS + N_HIDDEN
    site, shown = ours(room, 1, "sites"), ours(room, 1, "sites_by_model", SHOWN_MODEL)
    solved = (n_all * site - N_RESIDENTS * shown) / N_HIDDEN
    everybody = [*room.residents, *room.hidden]
    naive = (n_all * round(means(everybody), 1) - N_RESIDENTS * round(means(room.residents), 1)) / N_HIDDEN
    return Tries([means(room.hidden)], naive, [solved], site)


def _judged(who: str, rooms: list[Room], attack: Callable[[Room], Tries], effort: Effort) -> Line:
    tries = [attack(room) for room in rooms]
    # The naive build tells of the first newcomer; of the hidden cell there is one mean.
    naive = float(np.mean([_is_near(each.truth[0], each.naive) for each in tries]))
    guesses = [_share(each.truth, each.guess) for each in tries]
    attacks = [[_share(each.truth, each.ours[number]) for each in tries] for number in range(len(tries[0].ours))]
    best = max(attacks, key=np.mean)
    # The full run is judged by its figures; so few rooms as the suite's must only not contradict them.
    gains = np.subtract(best, guesses)
    noise = 0.0 if effort.full else 2 * float(gains.std(ddof=1)) / len(gains) ** 0.5
    n_tries = sum(len(each.truth) for each in tries)
    return Line(
        f"{who}, within a point ({n_tries:,} tries)",
        f"{naive:.2f}",
        f"{np.mean(best):.2f}, guessing {np.mean(guesses):.2f}",
        bool(gains.mean() <= MARGIN + noise and naive > np.mean(guesses) + 2 * MARGIN),
    )


def _share(truth: list[float], said: float) -> float:
    return float(np.mean([_is_near(each, said) for each in truth]))


def _is_near(truth: float, said: float) -> bool:
    return abs(truth - said) <= POINT


GOAL = Goal("G", "A newcomer's and a hidden cell's mean are found no more often than by guessing, and 5 points.", run)
