"""Writes of moderators: each step of a wear goes together with the decision that ordered it."""

from uuid import UUID

from django.db import transaction

from server.accounts.models import Account
from server.core import clock
from server.core.errors import Conflict, Fault, Invalid
from server.curation.models import Action, Decision, Reason
from server.curation.permissions import require_curator, require_not_own
from server.curation.selectors import CHAIN_START, chained, moderator_mark, wear_mark
from server.groups.models import Group
from server.wears import services as wears
from server.wears.selectors import wear_in_group

ACTIONS = tuple(Action.values)


@transaction.atomic
def approve_wear(group: Group, wear_id: UUID, *, by: Account) -> Decision:
    """Let a queued wear wait for the next cut-off."""
    _check(group, wear_id, by=by)
    version = wears.approve(wear_id, group=group)
    return _record(group, wear_id, action=Action.APPROVE, code=Reason.NONE, by=by, protocol_version=version)


@transaction.atomic
def exclude_wear(group: Group, wear_id: UUID, *, code: str, by: Account) -> Decision:
    """Leave a queued wear out, for a reason of the list."""
    reasons = [reason for reason in Reason.values if reason]
    if code not in reasons:
        faults = [Fault(pointer="#/code", message=f"Choose one of {', '.join(reasons)}.")]
        raise Invalid("A wear is left out for one of the listed reasons.", faults=faults)
    _check(group, wear_id, by=by)
    version = wears.exclude(wear_id, group=group)
    return _record(group, wear_id, action=Action.EXCLUDE, code=code, by=by, protocol_version=version)


@transaction.atomic
def undo_decision(group: Group, wear_id: UUID, *, by: Account) -> Decision:
    """Put a decided wear back into the queue, as long as no cut-off has counted it."""
    _check(group, wear_id, by=by)
    version = wears.queue_again(wear_id, group=group)
    return _record(group, wear_id, action=Action.UNDO, code=Reason.NONE, by=by, protocol_version=version)


def decide(group: Group, wear_id: UUID, *, action: str, code: str, by: Account) -> Decision:
    """The decision that a moderator sent, by its name."""
    if action == Action.EXCLUDE:
        return exclude_wear(group, wear_id, code=code, by=by)
    if code:
        raise Conflict("Only a wear that is left out takes a reason. Send the decision without a code.")
    return approve_wear(group, wear_id, by=by) if action == Action.APPROVE else undo_decision(group, wear_id, by=by)


def _check(group: Group, wear_id: UUID, *, by: Account) -> None:
    # One decision of a group at a time, so that each one is chained to its predecessor.
    Group.objects.select_for_update().get(pk=group.pk)
    require_curator(group, account=by)
    require_not_own(wear_id, account=by)
    wear_in_group(wear_id, group=group)


def _record(group: Group, wear_id: UUID, *, action: Action, code: str, by: Account, protocol_version: int) -> Decision:
    last = Decision.objects.filter(group=group).order_by("-number").first()
    decision = Decision(
        group=group,
        number=last.number + 1 if last else 1,
        wear_mark=wear_mark(group, wear_id),
        action=action,
        code=code,
        moderator_mark=moderator_mark(by),
        protocol_version=protocol_version,
        on_month=clock.today().replace(day=1),
    )
    decision.chain_hash = chained(last.chain_hash if last else CHAIN_START, decision)
    decision.save()
    return decision
