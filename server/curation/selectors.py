"""Reads for moderators: the queue, one wear without its owner, and the record of decisions."""

import hashlib
import json
from collections.abc import Mapping
from typing import Any, Final
from uuid import UUID

from server.accounts.models import Account
from server.accounts.selectors import wears_held_by
from server.core import keys
from server.core.chunks import chunks
from server.curation.models import Decision
from server.curation.permissions import require_curator, require_not_own
from server.groups.models import Group
from server.groups.permissions import Permission
from server.groups.selectors import require
from server.wears.models import Wear
from server.wears.selectors import CuratedWear, curated, given_wears, wear_in_group

CHAIN_START: Final = "0" * 64


def queue_for_moderator(group: Group, *, account: Account) -> list[Wear]:
    """The wears to decide about, without the moderator's own, in a keyed order that tells nothing about arrival."""
    require_curator(group, account=account)
    own = set(wears_held_by(account))
    wears = [wear for wear in given_wears(group) if wear.id not in own]
    return sorted(wears, key=lambda wear: keys.mac("queue", group.id.bytes + wear.id.bytes))


def wear_for_moderator(group: Group, wear_id: UUID, *, account: Account) -> CuratedWear:
    require_curator(group, account=account)
    require_not_own(wear_id, account=account)
    return curated(wear_in_group(wear_id, group=group))


def record_of(group: Group, *, account: Account) -> list[Decision]:
    """Every decision taken in the group, the first one first."""
    require(Permission.RECORD_READ, group=group, account=account)
    return list(Decision.objects.filter(group=group).order_by("number"))


def decisions_about_wears_of(account: Account) -> list[dict[str, Any]]:
    """What was decided about an account's wears, for its owner; who decided is not told."""
    groups = list(Group.objects.order_by("slug"))
    marks = {
        mark: wear_id for wear_id in wears_held_by(account) for group in groups for mark in wear_marks(group, wear_id)
    }
    decisions = [
        decision
        for chunk in chunks(marks)
        for decision in Decision.objects.filter(wear_mark__in=chunk).select_related("group")
    ]
    decisions.sort(key=lambda decision: (decision.group.slug, decision.number))
    return [
        {
            "wear": marks[decision.wear_mark],
            "group": decision.group.slug,
            "action": decision.action,
            "code": decision.code,
            "group_rules": decision.protocol_version,
            "month": decision.on_month,
        }
        for decision in decisions
    ]


def moderator_mark(account: Account) -> str:
    """How a moderator stands in the record: the same person is the same mark, and no mark leads to an account."""
    return keys.mac("moderator", account.id.bytes).hex()


def wear_mark(group: Group, wear_id: UUID) -> str:
    """How a wear stands in the record of a group, which outlives it: the record says when, and so may not say which."""
    return wear_marks(group, wear_id)[-1]


def wear_marks(group: Group, wear_id: UUID) -> list[str]:
    """The same under each key so far: an entry keeps the one of its time."""
    return keys.written_marks("decided wear", group.id.bytes + wear_id.bytes)


def chained(previous_hash: str, decision: Decision) -> str:
    """The hash of a decision over all that it says and the hash before it."""
    content: Mapping[str, Any] = {
        "previous": previous_hash,
        "group": str(decision.group_id),
        "number": decision.number,
        "wear": decision.wear_mark,
        "action": str(decision.action),
        "code": str(decision.code),
        "moderator": decision.moderator_mark,
        "protocol_version": decision.protocol_version,
        "month": decision.on_month.isoformat(),
        **({"closes": decision.closes} if decision.closes else {}),
    }
    return hashlib.sha256(json.dumps(content, sort_keys=True, separators=(",", ":")).encode()).hexdigest()


def chain_is_whole(group: Group) -> bool:
    """Whether each decision of the group follows from the one before: none changed, left out or put in on its own.

    A record cut short at its end, or written anew from some decision on, is seen by whoever kept a later hash.
    """
    previous = CHAIN_START
    for number, decision in enumerate(Decision.objects.filter(group=group).order_by("number"), start=1):
        previous = chained(previous, decision)
        if decision.number != number or decision.chain_hash != previous:
            return False
    return True
