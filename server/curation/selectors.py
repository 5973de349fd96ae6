"""Reads for moderators: the queue, one wear without its owner, and the record of the group."""

from uuid import UUID

from server.accounts.models import Account
from server.accounts.selectors import wears_held_by
from server.core import keys
from server.core.errors import NotFound
from server.curation.models import Decision
from server.curation.permissions import require_curator, require_not_own
from server.groups.models import Group
from server.groups.permissions import Permission
from server.groups.selectors import require
from server.wears.models import Wear
from server.wears.selectors import NOT_IN_QUEUE, CuratedWear, curated, given_wears, wear_before_moderators


def queue_for_moderator(group: Group, *, account: Account) -> list[Wear]:
    """The wears to decide about, without the moderator's own, in a keyed order that tells nothing about arrival."""
    require_curator(group, account=account)
    own = set(wears_held_by(account))
    wears = [wear for wear in given_wears(group) if wear.id not in own]
    return sorted(wears, key=lambda wear: keys.mac("queue", group.id.bytes + wear.id.bytes))


def wear_for_moderator(group: Group, wear_id: UUID, *, account: Account) -> CuratedWear:
    require_curator(group, account=account)
    require_not_own(wear_id, account=account)
    wear = wear_before_moderators(wear_id, group=group)
    if wear is None:
        raise NotFound(NOT_IN_QUEUE)
    return curated(wear)


def record_of(group: Group, *, account: Account) -> list[Decision]:
    """Every entry in the record of the group, the first one first."""
    require(Permission.RECORD_READ, group=group, account=account)
    return list(Decision.objects.filter(group=group).order_by("number"))
