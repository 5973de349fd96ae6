"""Goal N: leaving must not tell.

Two histories of the same people differ only in whether, when and how one of them takes back what has been counted. What
of theirs has not been counted yet is absent from both. Everything that is ever sealed or published must be the same:
plans, sums with their values, the editions' bytes, sizes and dates, also where moderators end sums early. A naive build
closes a sum that somebody leaves and lets the others of it wait again.

First with planner and sealing alone, then through the service with a database.
"""

import json
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date
from typing import Any
from unittest.mock import patch

import numpy as np

from pooling.ledger import CellKey, end_bucket, plan
from pooling.sealing import SEAL_VERSION_1, Member, SealedRecords, seal_slot
from tests.calibration.pools import Stratum, Summary
from tests.redteam.goal_c import history
from tests.redteam.ledgers import NEVER, Given, slot_key
from tests.redteam.registry import Effort, Goal, Line
from tests.redteam.world import fresh_world, headers_of, new_group, new_member
from tests.server.records import raw
from tests.server.releasing import approve_at_once

K, N_SLOTS = 3, 8
CUT_OFFS = {1: date(2031, 3, 1), 2: date(2031, 4, 1), 3: date(2031, 5, 1)}
WEEK_BEFORE = {1: date(2031, 2, 20), 2: date(2031, 3, 20)}
THIGH, FLANK = "thigh.front", "abdomen.flank"


def run(effort: Effort) -> Iterator[Line]:
    n_histories = effort.pick(300, 4)
    ours, naive = Counter[bool](), Counter[bool]()
    for number in range(n_histories):
        told, told_naively = _told_by_leaving(effort.seed, number)
        ours += told
        naive += told_naively
    yield Line(
        f"{n_histories} histories, {ours.total():,} leavings: other sums or bytes",
        f"{naive[True]:,} of {naive.total():,}",
        f"{ours[True]} of {ours.total():,}",
        ours[True] == 0 < naive[True] and ours.total() >= n_histories,
    )
    with fresh_world() as day, _fewer_draws():
        changed = Counter[bool]()
        for number in range(effort.pick(20, 1)):
            changed += _told_by_the_service(np.random.default_rng([effort.seed, 14, number]), number, day)
        control = _edited_in_place(np.random.default_rng([effort.seed, 15]), day)
    yield Line(
        f"through the service: {changed.total()} leavings: other rows, bytes or dates",
        "1 of 1" if control else "0 of 1",
        f"{changed[True]} of {changed.total()}",
        changed[True] == 0 < changed.total() and control,
    )


# Planner and sealing


@dataclass(frozen=True)
class Leaving:
    person: str
    slot: int


def _told_by_leaving(seed: int, number: int) -> tuple[Counter[bool], Counter[bool]]:
    """Whether each leaving changes something, for two people and two dates each."""
    rng = np.random.default_rng([seed, 13, number])
    given = [replace(one, gone_from=NEVER) for one in history(seed, number)]
    members = {one.wear: _member(one, rng) for one in given}
    staying = Sealing(given, members, number)
    counted = sorted({staying.of[wear].person for wear in staying.admitted_at})
    ours, naive = Counter[bool](), Counter[bool]()
    for person in rng.permutation(counted)[:2].tolist():
        for slot in rng.choice(np.arange(2, N_SLOTS + 1), 2, replace=False).tolist():
            leaving = Leaving(person, slot)
            absent = [one for one in given if not _never_counted(one, leaving, staying)]
            stays, leaves = (Sealing(absent, members, number, leaving=each) for each in (None, leaving))
            ours[stays.traces != leaves.traces] += 1
            closes = Sealing(absent, members, number, leaving=leaving, closing=True)
            naive[stays.traces != closes.traces] += 1
    return ours, naive


def _never_counted(one: Given, leaving: Leaving, staying: "Sealing") -> bool:
    """What the leaver gave and what was not counted before the leaving is absent from both histories."""
    return one.person == leaving.person and staying.admitted_at.get(one.wear, NEVER) >= leaving.slot


def _member(one: Given, rng: np.random.Generator) -> Member:
    readings = rng.normal(0, 0.05) + 0.1 * rng.standard_normal(int(rng.integers(8, 40)))
    return Member(one.wearer, one.person, Summary({"all": Stratum.of(readings)}))


class Sealing:
    """A history slot by slot: `traces` holds all that is sealed, and each edition's open sums as bytes.

    Of a leaver nothing but places is left: the wears are taken out of what the cut-off gets to see.
    """

    def __init__(
        self,
        given: Sequence[Given],
        members: dict[str, Member],
        number: int,
        *,
        leaving: Leaving | None = None,
        closing: bool = False,
    ) -> None:
        self.of = {one.wear: one for one in given}
        self.members, self.number, self.leaving, self.closing = members, number, leaving, closing
        self.admitted_at: dict[str, int] = {}
        self.sealed: list[tuple[frozenset[str], Any]] = []
        self.places: list[Any] = []
        self.traces: list[Any] = []
        for slot in range(1, N_SLOTS + 1):
            self._pass(slot)

    def _pass(self, slot: int) -> None:
        held = [one for one in self.of.values() if one.slot <= slot and not self._is_gone(one, slot)]
        if self.closing:
            self._close(slot)
        queue = [one.waiting(slot, self._n_open(one)) for one in held if one.wear not in self.admitted_at]
        outcome = plan(queue, slot_key=slot_key(self.number, slot), k_of=lambda _: K)
        seal = seal_slot(
            [(block.cell, [self.members[wear] for wear in block.wears]) for block in outcome.blocks],
            ties=outcome.ties,
            open_places=self.places,
            end_bucket=end_bucket(slot),
            version=SEAL_VERSION_1,
            key=slot_key(self.number, slot),
            k=K,
        )
        self.places += seal.places
        self.admitted_at |= {wear: slot for block in outcome.blocks for wear in block.wears}
        self.sealed += zip([frozenset(block.wears) for block in outcome.blocks], seal.blocks, strict=True)
        rest = (*seal.overlaps, *seal.bundles, *seal.ties)
        edition = SealedRecords.of([record for _, record in self.sealed]).merged()
        written = [json.dumps(record.to_payload(), sort_keys=True) for record in (*edition.blocks, *rest)]
        self.traces.append((outcome.blocks, outcome.ties, outcome.still_waiting, written, sum(map(len, written))))

    def _is_gone(self, one: Given, slot: int) -> bool:
        return self.leaving is not None and one.person == self.leaving.person and slot >= self.leaving.slot

    def _n_open(self, one: Given) -> int:
        places = [place for place in self.places if place.person == one.wearer]
        return sum(
            CellKey(place.scope, place.place, place.sensor_model).could_hold(one.site, one.sensor_model)
            for place in places
        )

    def _close(self, slot: int) -> None:
        """The naive build: sums that count the leaver end at once, and the others in them wait again."""
        gone = {wear for wear in self.admitted_at if self._is_gone(self.of[wear], slot)}
        ended = [wears for wears, _ in self.sealed if wears & gone]
        self.sealed = [(wears, record) for wears, record in self.sealed if not wears & gone]
        for wear in {wear for wears in ended for wear in wears}:
            del self.admitted_at[wear]


# The service


@contextmanager
def _fewer_draws() -> Iterator[None]:
    """Bytes are compared, whatever their precision."""
    from server.editions import fitting

    with patch.object(fitting, "FIT_RULES", replace(fitting.FIT_RULES, draws=200)):
        yield


@dataclass
class Cast:
    number: int
    groups: list[Any]
    moderator: Any
    members: list[Any]
    leaver: Any = None


def _told_by_the_service(rng: np.random.Generator, number: int, day: Any) -> Counter[bool]:
    """One history up to the leaving, and from there on once for every way to leave, early or late, and once without."""
    from django.db import transaction

    changed = Counter[bool]()
    with transaction.atomic():
        cast = _cast(rng, number, day)
        counted = [member for member in cast.members if _counted(member)]
        leaver = cast.leaver = counted[int(rng.integers(len(counted)))]
        for absent, ways in ((_nothing_more_of, _ways_to_take_back), (_nothing_that_waits, _ways_to_leave)):
            stays = _undone(lambda absent=absent: _goes_on(cast, day, lambda: absent(leaver)))
            for turn, leave in enumerate(ways(leaver)):
                acts = (lambda: None, leave) if (number + turn) % 2 else (leave,)
                traces = _undone(lambda absent=absent, acts=acts: _goes_on(cast, day, lambda: absent(leaver), *acts))
                changed[traces != stays] += 1
        transaction.set_rollback(True)
    return changed


def _edited_in_place(rng: np.random.Generator, day: Any) -> bool:
    """A naive build on the same rows, so that the comparison is seen to see: the leaver is taken out of the sums."""
    from django.db import transaction

    from server.editions.models import RecordKind, SealedRecord

    def edit() -> None:
        record = SealedRecord.objects.filter(kind=RecordKind.BLOCK, family="accuracy").first()
        record.payload |= {"n_wears": record.payload["n_wears"] - 1}
        record.save(update_fields=["payload"])

    with transaction.atomic():
        _cast(rng, 10_000, day)
        stays, edited = (_undone(lambda act=act: (act(), _rows())) for act in (lambda: None, edit))
        transaction.set_rollback(True)
    return bool(stays != edited)


def _cast(rng: np.random.Generator, number: int, day: Any) -> Cast:
    """Two groups; the first cut-off has passed, and wears for the second wait."""
    from server.editions.admission import run_cut_off
    from server.groups.services import join_group

    day.write_text("2031-01-05")
    moderator = new_member()
    groups = [new_group(f"harbour-{number}", moderator), new_group(f"lantern-{number}", moderator)]
    members = [new_member() for _ in range(int(rng.integers(11, 15)))]
    day.write_text(WEEK_BEFORE[1].isoformat())
    home = [groups[int(rng.random() < 0.3)] for _ in members]
    for member, group in zip(members, home, strict=True):
        join_group(group, account=member.account)
        for site in (THIGH, FLANK):
            if site == THIGH or rng.random() < 0.7:
                _bring(rng, member, group, moderator, site)
    day.write_text(CUT_OFFS[1].isoformat())
    assert run_cut_off(1, slot_key=b"one")
    day.write_text(WEEK_BEFORE[2].isoformat())
    for member, group in zip(members, home, strict=True):
        if rng.random() < 0.7:
            _bring(rng, member, group, moderator, str(rng.choice([THIGH, FLANK])))
    return Cast(number, groups, moderator, members)


def _bring(rng: np.random.Generator, member: Any, group: Any, moderator: Any, site: str) -> None:
    from server.accounts.selectors import wearer_of
    from server.wears.services import accept_upload, give_to_group

    body = raw(seed=int(rng.integers(1 << 40)), n_pairs=int(rng.integers(9, 20)), site=site)
    wear = accept_upload(body, account=member.account, wearer=wearer_of(member.account, None)).wear
    give_to_group(wear.pk, account=member.account, group=group)
    approve_at_once(group, wear.pk, by=moderator.account)


def _ways_to_take_back(leaver: Any) -> list[Callable[[], None]]:
    """Only what was counted; what waits stays, and is counted at the next cut-off in either history."""
    from server.wears.services import erase_wear, take_back

    return [lambda: _each_counted(leaver, take_back), lambda: _each_counted(leaver, erase_wear)]


def _ways_to_leave(leaver: Any) -> list[Callable[[], None]]:
    from server.accounts.services import close_account
    from server.groups.models import Membership
    from server.groups.services import leave_group
    from server.wears.services import take_back

    def leave_groups() -> None:
        for membership in Membership.objects.filter(account=leaver.account):
            leave_group(membership.group, account=leaver.account)
        _each_counted(leaver, take_back)

    return [leave_groups, lambda: close_account(leaver.account)]


def _each_counted(member: Any, act: Callable[..., None]) -> None:
    for wear in _counted(member):
        act(wear.pk, account=member.account)


def _counted(member: Any) -> list[Any]:
    from server.accounts.selectors import wears_held_by
    from server.wears.models import Wear
    from server.wears.transitions import State

    return list(Wear.objects.filter(pk__in=wears_held_by(member.account), state=State.ADMITTED))


def _nothing_more_of(leaver: Any) -> None:
    """What was counted for accuracy and waits for company among those who rate is absent from both histories."""
    from server.wears.models import Awaited

    Awaited.objects.filter(wear__in=_counted(leaver)).delete()


def _nothing_that_waits(leaver: Any) -> None:
    from server.wears.services import take_back_from_all_groups

    take_back_from_all_groups(account=leaver.account)


def _goes_on(cast: Cast, day: Any, absent: Callable[[], None], *acts: Callable[[], None]) -> tuple[Any, ...]:
    """Two more cut-offs and an edition; the acts come before the one and before the other.

    In every other history moderators end sums early in between, and what members are told of that is the same too.
    """
    from server.editions.admission import run_cut_off
    from server.groups.selectors import everyone

    absent()
    rows = []
    for slot, act in zip((2, 3), (*acts, lambda: None, lambda: None), strict=False):
        act()
        if slot == 3 and cast.number % 2 == 0:
            _end_early(cast)
        day.write_text(CUT_OFFS[slot].isoformat())
        assert run_cut_off(slot, slot_key=b"another")
        rows.append(_rows())
    # The editions rest on the sums compared already; so each history publishes for one group only.
    group = (*cast.groups, everyone())[cast.number % 3]
    return rows, _published(group, cast), _seen_by_a_visitor(group), _told_to_the_others(cast)


def _end_early(cast: Cast) -> None:
    """Moderators end what could hold a wear at the front of the thigh, whoever wore it."""
    from server.editions import closing
    from tests.server.records import SENSOR_MODEL

    asked = closing.Asked(THIGH, SENSOR_MODEL, end_bucket(1), "swapped")
    told = closing.tell_closing(cast.groups[0], asked, by=cast.moderator.account)
    closing.close_sums(cast.groups[0], asked, confirm=told.confirm, by=cast.moderator.account)


def _told_to_the_others(cast: Cast) -> list[Any]:
    """What each member who stays is told about sums that may count their wears and were ended early."""
    from server.held import ended_early_of

    others = [member for member in cast.members if member is not cast.leaver]
    return [[ended_early_of(wear, account=one.account) for wear in _counted(one)] for one in others]


def _published(group: Any, cast: Cast) -> tuple[Any, ...]:
    from server.core.models import Job
    from server.core.services import run_job
    from server.editions.services import publish_draft, start_draft
    from server.groups.services import appoint_moderator

    if group.reserved:
        appoint_moderator(group, account=cast.moderator.account)
    draft = start_draft(group, by=cast.moderator.account)
    while (job := Job.objects.filter(state=Job.State.DUE).first()) is not None:
        run_job(job.pk)
    edition = publish_draft(group, draft.pk, by=cast.moderator.account)
    return bytes(edition.document), edition.sha256, edition.published_month, edition.slot.cut_off


def _rows() -> list[str]:
    """Every sealed record with the places in it; random ids stand for nothing."""
    from server.editions.models import SealedRecord

    return sorted(
        json.dumps(
            [record.family, record.kind, record.scope, record.end_bucket, record.k, record.payload, _places(record)],
            sort_keys=True,
        )
        for record in SealedRecord.objects.prefetch_related("places")
    )


def _places(record: Any) -> list[Any]:
    return sorted([place.n_wears, list(place.q1), list(place.q2)] for place in record.places.all())


def _seen_by_a_visitor(group: Any) -> list[tuple[int, bytes, list[Any]]]:
    """What anybody is answered, with sizes, entity tags and dates."""
    from rest_framework.test import APIClient

    visitor, base = APIClient(), f"/api/v1/groups/{group.slug}/"
    answers = [visitor.get(address) for address in (base, f"{base}editions/", f"{base}editions/3/")]
    assert {answer.status_code for answer in answers} == {200}
    return [(answer.status_code, answer.content, headers_of(answer)) for answer in answers]


def _undone(act: Callable[[], Any]) -> Any:
    from django.db import transaction

    with transaction.atomic():
        result = act()
        transaction.set_rollback(True)
    return result


GOAL = Goal("N", "Whether, when and how somebody takes back what was counted changes nothing sealed or published.", run)
