"""Writes of moderators: each step of a wear goes together with the entry in the record that tells of it."""

from collections.abc import Sequence
from typing import Final
from uuid import UUID

from django.db import transaction

from server.accounts.models import Account
from server.core.errors import Conflict, Fault, Invalid, NotFound
from server.curation import record
from server.curation.models import REASONS, Action, Decision
from server.curation.permissions import require_another, require_curator, require_not_own
from server.curation.standing import VERDICTS
from server.curation.words import Question
from server.groups.models import Group
from server.groups.permissions import Permission
from server.groups.selectors import protocol_of, require
from server.wears import curating
from server.wears.models import Wear
from server.wears.selectors import NOT_IN_QUEUE, wear_before_moderators
from server.wears.transitions import State

ACTIONS = (str(Action.APPROVE), str(Action.EXCLUDE), str(Action.UNDO))
HAPPENED: Final = {
    State.APPROVED: "This wear has been approved meanwhile. Undo that first if it was wrong.",
    State.EXCLUDED: "This wear has been left out meanwhile. Undo that first if it was wrong.",
    State.ASKED: "Its owner has been asked meanwhile. Wait for the answer, or undo that first.",
}


@transaction.atomic
def approve_wear(group: Group, wear_id: UUID, *, by: Account) -> Decision:
    """Let a queued wear wait for the next cut-off."""
    _begin(group, wear_id, by=by)
    _require_queued(group, wear_id, by=by)
    version = curating.approve(wear_id, group=group)
    return record.append(group, wear_id, action=Action.APPROVE, by=by, protocol_version=version)


@transaction.atomic
def exclude_wear(group: Group, wear_id: UUID, *, code: str, by: Account) -> Decision:
    """Leave a wear out, for a reason of the list.

    Once an edition date has passed over an approved wear, the answer is the same whether it waits, is counted in part
    or in full, or has been taken back: nothing more of it is counted, and what was counted stays.
    """
    require_reason(code)
    _begin(group, wear_id, by=by)
    if wear_before_moderators(wear_id, group=group) is None:
        _require_approved_before(group, wear_id)
        curating.count_no_more(wear_id, group=group)
    else:
        _require_queued(group, wear_id, by=by)
        curating.exclude(wear_id, group=group)
    return record.append(group, wear_id, action=Action.EXCLUDE, code=code, by=by, protocol_version=_version(group))


def require_reason(code: str) -> None:
    if code not in REASONS:
        faults = [Fault(pointer="#/code", message=f"Choose one of {', '.join(REASONS)}.")]
        raise Invalid("What is left out is left out for one of the listed reasons.", faults=faults)


@transaction.atomic
def ask_owner(group: Group, wear_id: UUID, *, question: str, by: Account) -> Decision:
    """Have the owner of a queued wear asked something of the list, each thing once."""
    if question not in Question.values:
        faults = [Fault(pointer="#/question", message=f"Choose one of {', '.join(Question.values)}.")]
        raise Invalid("Owners are asked one of the listed questions.", faults=faults)
    _begin(group, wear_id, by=by)
    wear = _require_queued(group, wear_id, by=by)
    if wear.appealed:
        raise Conflict("Its owner appeals. Decide about the appeal; nothing more is asked.")
    entries = record.entries_about(group, wear_id)
    if any((entry.action, entry.code) == (Action.ASK, question) for entry in entries):
        raise Conflict("Its owner has been asked this before. Decide with the answer that there is.")
    curating.ask(wear_id, group=group)
    return record.append(group, wear_id, action=Action.ASK, code=question, by=by, protocol_version=_version(group))


@transaction.atomic
def undo_decision(group: Group, wear_id: UUID, *, by: Account) -> Decision:
    """Put a decided wear back into the queue, or take a question back, until an edition date has passed over it."""
    _begin(group, wear_id, by=by)
    wear = wear_before_moderators(wear_id, group=group)
    if wear is None:
        _require_approved_before(group, wear_id)
        raise Conflict(curating.PASSED)
    if wear.appealed or wear.state == State.QUEUED:
        raise Conflict("Nothing has been decided about this wear that could be undone.")
    curating.queue_again(wear_id, group=group)
    return record.append(group, wear_id, action=Action.UNDO, by=by, protocol_version=_version(group))


@transaction.atomic
def record_closing(group: Group, *, closes: str, code: str, by: Account) -> Decision:
    """Put on record that counted sums are to end early; whoever ends them calls this in the same transaction."""
    require_reason(code)
    record.locked(group)
    require(Permission.SUMS_END, group=group, account=by)
    return record.append(
        group, None, action=Action.CLOSE, code=code, by=by, protocol_version=_version(group), closes=closes
    )


def decide(group: Group, wear_id: UUID, *, action: str, code: str, by: Account) -> Decision:
    """The decision that a moderator sent, by its name."""
    if action == Action.EXCLUDE:
        return exclude_wear(group, wear_id, code=code, by=by)
    if code:
        raise Conflict("Only a wear that is left out takes a reason. Send the decision without a code.")
    return approve_wear(group, wear_id, by=by) if action == Action.APPROVE else undo_decision(group, wear_id, by=by)


def _begin(group: Group, wear_id: UUID, *, by: Account) -> None:
    record.locked(group)
    require_curator(group, account=by)
    require_not_own(wear_id, account=by)


def _version(group: Group) -> int:
    return protocol_of(group).version


def _require_queued(group: Group, wear_id: UUID, *, by: Account) -> Wear:
    """The wear, if it is to be decided about; who comes second is told what happened."""
    wear = wear_before_moderators(wear_id, group=group)
    if wear is None:
        raise NotFound(NOT_IN_QUEUE)
    if wear.appealed:
        require_another(group, wear, record.entries_about(group, wear_id), account=by)
    elif wear.state != State.QUEUED:
        raise Conflict(HAPPENED[State(wear.state)])
    return wear


def _require_approved_before(group: Group, wear_id: UUID) -> None:
    """A wear that moderators see no more: the record alone says whether they ever approved it."""
    last = _last_verdict(record.entries_about(group, wear_id))
    if last == Action.EXCLUDE:
        raise Conflict("This wear has been left out already.")
    if last != Action.APPROVE:
        raise NotFound(NOT_IN_QUEUE)


def _last_verdict(entries: Sequence[Decision]) -> str:
    return next((entry.action for entry in reversed(entries) if entry.action in VERDICTS), "")
