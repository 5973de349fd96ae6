"""Writes of moderators: each step of a wear goes together with the entry in the record that tells of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Final
from uuid import UUID

from django.db import transaction

from server.accounts.models import Account
from server.core.errors import Conflict, Fault, Invalid, NotFound
from server.core.locks import hold_rows
from server.curation import record
from server.curation.models import REASONS, Action, Decision
from server.curation.permissions import require_another, require_curator, require_not_own
from server.curation.queues import wear_before
from server.curation.selectors import queue_for_moderator
from server.curation.standing import VERDICTS
from server.curation.words import Question
from server.groups.models import Group
from server.groups.permissions import Permission
from server.groups.selectors import protocol_of, require
from server.wears import curating
from server.wears.models import Wear
from server.wears.selectors import NOT_IN_QUEUE
from server.wears.transitions import State

ACTIONS = (str(Action.APPROVE), str(Action.EXCLUDE), str(Action.UNDO))
HAPPENED: Final = {
    State.APPROVED: "This wear has been approved meanwhile. Undo that first if it was wrong.",
    State.EXCLUDED: "This wear has been left out meanwhile. Undo that first if it was wrong.",
    State.ASKED: "Its owner has been asked meanwhile. Wait for the answer, or undo that first.",
}

NOT_CLEAN: Final = "Something was found in this wear; look at it by itself."
MOST_AT_ONCE: Final = 25


@dataclass(frozen=True, slots=True)
class Case:
    """A wear before a moderator: its queue, the group whose record tells of it, the wear while it may be seen."""

    queue: Group
    group: Group
    wear_id: UUID
    wear: Wear | None
    entries: tuple[Decision, ...]


@dataclass(frozen=True, slots=True)
class Left:
    wear_id: UUID
    why: str


@dataclass(frozen=True, slots=True)
class Bulk:
    """What became of several wears that were to be approved at once."""

    approved: tuple[Decision, ...]
    left: tuple[Left, ...]


@transaction.atomic
def approve_wear(queue: Group, wear_id: UUID, *, by: Account) -> Decision:
    """Let a queued wear wait for the next cut-off."""
    return _approve(_open(queue, wear_id, by=by), by=by)


def _approve(case: Case, *, by: Account) -> Decision:
    _require_queued(case, by=by)
    version = curating.approve(case.wear_id, group=case.group)
    return record.append(case.group, case.wear_id, action=Action.APPROVE, by=by, protocol_version=version)


@transaction.atomic
def approve_clean(queue: Group, wear_ids: Sequence[UUID], *, by: Account) -> Bulk:
    """Approve several wears of which nothing at all was found, each with its own entry; others are left as they are."""
    require_curator(queue, account=by)
    if not 0 < len(wear_ids) <= MOST_AT_ONCE:
        faults = [Fault(pointer="#/wears", message=f"Name 1 to {MOST_AT_ONCE} wears at once.")]
        raise Invalid("Nothing was approved.", faults=faults)
    clean = {line.id: line.is_clean for line in queue_for_moderator(queue, account=by)}
    groups = {wear.group_id for wear in map(partial(wear_before, queue), clean.keys() & set(wear_ids)) if wear}
    hold_rows(Group.objects.all(), groups)  # all of them at once, so that nobody waits in a circle
    approved, left = [], []
    for wear_id in dict.fromkeys(wear_ids):
        try:
            if clean.get(wear_id) is False:
                raise Conflict(NOT_CLEAN)
            with transaction.atomic():
                approved.append(approve_wear(queue, wear_id, by=by))
        except (Conflict, NotFound) as refusal:
            left.append(Left(wear_id, refusal.detail))
    return Bulk(tuple(approved), tuple(left))


@transaction.atomic
def exclude_wear(queue: Group, wear_id: UUID, *, code: str, by: Account) -> Decision:
    """Leave a wear out, for a reason of the list.

    Once an edition date has passed over an approved wear, the answer is the same whether it waits, is counted in part
    or in full, or has been taken back: nothing more of it is counted, and what was counted stays.
    """
    require_reason(code)
    case = _open(queue, wear_id, by=by)
    if case.wear is None:
        _require_approved_before(case)
        curating.count_no_more(wear_id, group=case.group)
    else:
        _require_queued(case, by=by)
        curating.exclude(wear_id, group=case.group)
    version = protocol_of(case.group).version
    return record.append(case.group, wear_id, action=Action.EXCLUDE, code=code, by=by, protocol_version=version)


def require_reason(code: str) -> None:
    if code not in REASONS:
        faults = [Fault(pointer="#/code", message=f"Choose one of {', '.join(REASONS)}.")]
        raise Invalid("What is left out is left out for one of the listed reasons.", faults=faults)


@transaction.atomic
def ask_owner(queue: Group, wear_id: UUID, *, question: str, by: Account) -> Decision:
    """Have the owner of a queued wear asked something of the list, each thing once."""
    if question not in Question.values:
        faults = [Fault(pointer="#/question", message=f"Choose one of {', '.join(Question.values)}.")]
        raise Invalid("Owners are asked one of the listed questions.", faults=faults)
    case = _open(queue, wear_id, by=by)
    wear = _require_queued(case, by=by)
    if wear.appealed:
        raise Conflict("Its owner appeals. Decide about the appeal; nothing more is asked.")
    if any((entry.action, entry.code) == (Action.ASK, question) for entry in case.entries):
        raise Conflict("Its owner has been asked this before. Decide with the answer that there is.")
    curating.ask(wear_id, group=case.group)
    version = protocol_of(case.group).version
    return record.append(case.group, wear_id, action=Action.ASK, code=question, by=by, protocol_version=version)


@transaction.atomic
def undo_decision(queue: Group, wear_id: UUID, *, by: Account) -> Decision:
    """Put a decided wear back into the queue, or take a question back, until an edition date has passed over it."""
    case = _open(queue, wear_id, by=by)
    if case.wear is None:
        _require_approved_before(case)
        raise Conflict(curating.PASSED)
    if case.wear.appealed or case.wear.state == State.QUEUED:
        raise Conflict("Nothing has been decided about this wear that could be undone.")
    curating.queue_again(wear_id, group=case.group)
    version = protocol_of(case.group).version
    return record.append(case.group, wear_id, action=Action.UNDO, by=by, protocol_version=version)


@transaction.atomic
def record_closing(group: Group, *, closes: str, code: str, by: Account) -> Decision:
    """Put on record that counted sums are to end early; whoever ends them calls this in the same transaction."""
    require_reason(code)
    record.locked(group)
    require(Permission.SUMS_END, group=group, account=by)
    return record.append(
        group, None, action=Action.CLOSE, code=code, by=by, protocol_version=protocol_of(group).version, closes=closes
    )


def record_figures(group: Group, number: int, *, action: Action, by: Account | None, code: str = "") -> Decision:
    """Put on record what becomes of an edition; whoever does it has locked the record and is in its transaction."""
    return record.append(
        group, None, action=action, code=code, by=by, protocol_version=protocol_of(group).version, figures=number
    )


def decide(queue: Group, wear_id: UUID, *, action: str, code: str, by: Account) -> Decision:
    """The decision that a moderator sent, by its name."""
    if action == Action.EXCLUDE:
        return exclude_wear(queue, wear_id, code=code, by=by)
    if code:
        raise Conflict("Only a wear that is left out takes a reason. Send the decision without a code.")
    return approve_wear(queue, wear_id, by=by) if action == Action.APPROVE else undo_decision(queue, wear_id, by=by)


def _open(queue: Group, wear_id: UUID, *, by: Account) -> Case:
    """What a moderator of the queue may know of a wear, with the record held in which the decision will stand."""
    require_curator(queue, account=by)
    require_not_own(wear_id, account=by)
    seen = wear_before(queue, wear_id)
    group = seen.group if seen is not None else record.group_that_tells_of(wear_id, queue=queue)
    if group is None:
        raise NotFound(NOT_IN_QUEUE)
    record.locked(group)
    wear = wear_before(queue, wear_id)
    if wear is not None and wear.group_id != group.pk:
        raise NotFound(NOT_IN_QUEUE)
    return Case(queue, group, wear_id, wear, tuple(record.entries_about(group, wear_id)))


def _require_queued(case: Case, *, by: Account) -> Wear:
    """The wear, if it is to be decided about; who comes second is told what happened."""
    wear = case.wear
    if wear is None:
        raise NotFound(NOT_IN_QUEUE)
    if wear.appealed:
        require_another(case.queue, wear, case.entries, account=by)
    elif wear.state != State.QUEUED:
        raise Conflict(HAPPENED[State(wear.state)])
    return wear


def _require_approved_before(case: Case) -> None:
    """A wear that moderators see no more: the record alone says whether they approved it or left it out."""
    last = next((entry.action for entry in reversed(case.entries) if entry.action in VERDICTS), "")
    if last == Action.EXCLUDE:
        raise Conflict(curating.TOLD)
    if last != Action.APPROVE:
        raise NotFound(NOT_IN_QUEUE)
