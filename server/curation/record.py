"""The record of a group: what was decided, asked and answered about its wears, each entry chained to the one before.

It names wears and moderators by keyed marks, holds no value, and outlives the wears it speaks of.
"""

import hashlib
import json
from collections.abc import Mapping
from typing import Any, Final
from uuid import UUID

from server.accounts.models import Account
from server.core import clock, keys
from server.curation.models import OF_FIGURES, OPERATOR, Action, Decision
from server.groups.models import Group, Membership, Role

CHAIN_START: Final = "0" * 64


def locked(group: Group) -> None:
    """One entry of a group at a time, so that each one is chained to its predecessor."""
    Group.objects.select_for_update().get(pk=group.pk)


def append(
    group: Group,
    wear_id: UUID | None,
    *,
    action: Action,
    protocol_version: int,
    code: str = "",
    by: Account | None = None,
    closes: str = "",
    figures: int | None = None,
) -> Decision:
    """Write an entry, in a transaction that holds the group; `by` is the moderator.

    Without one, an entry about figures is the operator's, and any other that of a wear's owner.
    """
    last = Decision.objects.filter(group=group).order_by("-number").first()
    entry = Decision(
        group=group,
        number=last.number + 1 if last else 1,
        wear_mark="" if wear_id is None else wear_mark(group, wear_id),
        action=action,
        code=code,
        closes=closes,
        figures=figures,
        moderator_mark=_acting(action, by),
        protocol_version=protocol_version,
        on_month=clock.this_month(),
    )
    entry.chain_hash = chained(last.chain_hash if last else CHAIN_START, entry)
    entry.save()
    return entry


def _acting(action: Action, by: Account | None) -> str:
    if by is not None:
        return moderator_mark(by)
    return OPERATOR if action in OF_FIGURES else ""


def entries_about(group: Group, wear_id: UUID) -> list[Decision]:
    """What stands in the record about a wear, the first entry first; nothing about any other."""
    return list(Decision.objects.filter(group=group, wear_mark__in=wear_marks(group, wear_id)).order_by("number"))


def group_that_tells_of(wear_id: UUID, *, queue: Group) -> Group | None:
    """The group whose record says that moderators of this queue approved the wear; it may be gone by now."""
    if not queue.reserved:
        return queue
    moderators = Membership.objects.filter(group=queue, role=Role.MODERATOR).select_related("account")
    by = [mark for membership in moderators for mark in moderator_marks(membership.account)]
    marks = {mark: group for group in Group.objects.order_by("slug") for mark in wear_marks(group, wear_id)}
    told = Decision.objects.filter(action=Action.APPROVE, wear_mark__in=list(marks), moderator_mark__in=by).first()
    return None if told is None else marks[told.wear_mark]


def moderator_mark(account: Account) -> str:
    """How a moderator stands in the record: the same person is the same mark, and no mark leads to an account."""
    return moderator_marks(account)[-1]


def moderator_marks(account: Account) -> list[str]:
    """The same under each key so far: an entry keeps the one of its time."""
    return keys.written_marks("moderator", account.id.bytes)


def wear_mark(group: Group, wear_id: UUID) -> str:
    """How a wear stands in the record of a group, which outlives it: the record says when, and so may not say which."""
    return wear_marks(group, wear_id)[-1]


def wear_marks(group: Group, wear_id: UUID) -> list[str]:
    """The same under each key so far: an entry keeps the one of its time."""
    return keys.written_marks("decided wear", group.id.bytes + wear_id.bytes)


def chained(previous_hash: str, entry: Decision) -> str:
    """The hash of an entry over all that it says and the hash before it."""
    content: Mapping[str, Any] = {
        "previous": previous_hash,
        "group": str(entry.group_id),
        "number": entry.number,
        "wear": entry.wear_mark,
        "action": str(entry.action),
        "code": str(entry.code),
        "moderator": entry.moderator_mark,
        "protocol_version": entry.protocol_version,
        "month": entry.on_month.isoformat(),
        **({"closes": entry.closes} if entry.closes else {}),
        **({"figures": entry.figures} if entry.figures is not None else {}),
    }
    return hashlib.sha256(json.dumps(content, sort_keys=True, separators=(",", ":")).encode()).hexdigest()


def told_of_broken_chains() -> list[str]:
    return [
        f"The record of decisions of {group.slug} is not whole: somebody wrote in the database. Put back a copy."
        for group in Group.objects.order_by("slug")
        if not chain_is_whole(group)
    ]


def chain_is_whole(group: Group) -> bool:
    """Whether each entry of the group follows from the one before: none changed, left out or put in on its own.

    A record cut short at its end, or written anew from some entry on, is seen by whoever kept a later hash.
    """
    previous = CHAIN_START
    for number, entry in enumerate(Decision.objects.filter(group=group).order_by("number"), start=1):
        previous = chained(previous, entry)
        if entry.number != number or entry.chain_hash != previous:
            return False
    return True
