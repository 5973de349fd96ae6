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
from server.groups.permissions import Permission
from server.groups.selectors import protocol_of, require
from server.wears import services as wears
from server.wears.selectors import wear_in_group

ACTIONS = (str(Action.APPROVE), str(Action.EXCLUDE), str(Action.UNDO))


@transaction.atomic
def approve_wear(group: Group, wear_id: UUID, *, by: Account) -> Decision:
    """Let a queued wear wait for the next cut-off."""
    _check(group, wear_id, by=by)
    version = wears.approve(wear_id, group=group)
    return _record(group, wear_id, action=Action.APPROVE, code=Reason.NONE, by=by, protocol_version=version)


@transaction.atomic
def exclude_wear(group: Group, wear_id: UUID, *, code: str, by: Account) -> Decision:
    """Leave a queued wear out, for a reason of the list."""
    require_reason(code)
    _check(group, wear_id, by=by)
    version = wears.exclude(wear_id, group=group)
    return _record(group, wear_id, action=Action.EXCLUDE, code=code, by=by, protocol_version=version)


def require_reason(code: str) -> None:
    reasons = [reason for reason in Reason.values if reason]
    if code not in reasons:
        faults = [Fault(pointer="#/code", message=f"Choose one of {', '.join(reasons)}.")]
        raise Invalid("What is left out is left out for one of the listed reasons.", faults=faults)


@transaction.atomic
def undo_decision(group: Group, wear_id: UUID, *, by: Account) -> Decision:
    """Put a decided wear back into the queue, as long as no cut-off has counted it."""
    _check(group, wear_id, by=by)
    version = wears.queue_again(wear_id, group=group)
    return _record(group, wear_id, action=Action.UNDO, code=Reason.NONE, by=by, protocol_version=version)


@transaction.atomic
def record_closing(group: Group, *, closes: str, code: str, by: Account) -> Decision:
    """Put on record that counted sums are to end early; whoever ends them calls this in the same transaction."""
    require_reason(code)
    Group.objects.select_for_update().get(pk=group.pk)
    require(Permission.SUMS_END, group=group, account=by)
    version = protocol_of(group).version
    return _record(group, None, action=Action.CLOSE, code=code, by=by, protocol_version=version, closes=closes)


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


def _record(
    group: Group,
    wear_id: UUID | None,
    *,
    action: Action,
    code: str,
    by: Account,
    protocol_version: int,
    closes: str = "",
) -> Decision:
    last = Decision.objects.filter(group=group).order_by("-number").first()
    decision = Decision(
        group=group,
        number=last.number + 1 if last else 1,
        wear_mark="" if wear_id is None else wear_mark(group, wear_id),
        action=action,
        code=code,
        closes=closes,
        moderator_mark=moderator_mark(by),
        protocol_version=protocol_version,
        on_month=clock.today().replace(day=1),
    )
    decision.chain_hash = chained(last.chain_hash if last else CHAIN_START, decision)
    decision.save()
    return decision
