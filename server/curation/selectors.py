"""Reads for moderators: the queue, one wear without its owner, and the record of the group."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final
from uuid import UUID

from pooling.checks import SEVERITY_OF
from pooling.checks.misfit import UNLIKE, points
from server.accounts.models import Account
from server.accounts.selectors import wears_held_by
from server.core import keys
from server.core.errors import NotFound
from server.curation.expectations import model_for
from server.curation.looks import note_look
from server.curation.models import Decision
from server.curation.permissions import require_curator, require_not_own
from server.curation.queues import decided_lately, shows_pairs, to_decide, wear_before
from server.groups.models import Group
from server.groups.permissions import Permission
from server.groups.selectors import require
from server.wears.curated import CuratedWear, curated, is_unlike
from server.wears.models import Wear
from server.wears.selectors import NOT_IN_QUEUE

RECORD_PAGE: Final = 100


@dataclass(frozen=True, slots=True)
class Queued:
    """A line of the queue: codes of what looks odd, and how much the wear needs a look."""

    id: UUID
    points: int
    appealed: bool
    remarks: tuple[str, ...]

    @property
    def is_clean(self) -> bool:
        """Whether nothing at all was found, so that it may be approved with others."""
        return not self.remarks and not self.appealed


def queue_for_moderator(group: Group, *, account: Account) -> list[Queued]:
    """The wears to decide about, without the moderator's own: what needs a look most comes first.

    Wears that need it alike stand in a keyed order, which tells nothing about arrival and puts no copy beside another.
    """
    require_curator(group, account=account)
    own = set(wears_held_by(account))
    model = model_for(group)
    lines = [line_of(wear, model) for wear in to_decide(group) if wear.id not in own]
    return sorted(lines, key=lambda line: (-line.points, keys.mac("queue", group.id.bytes + line.id.bytes)))


@dataclass(frozen=True, slots=True)
class Decided:
    """A wear that moderators have decided about, as long as they may undo it."""

    id: UUID
    state: str


def decided_for_moderator(group: Group, *, account: Account) -> list[Decided]:
    """What was decided since the last edition date and what is asked, without the moderator's own, in a keyed order."""
    require_curator(group, account=account)
    own = set(wears_held_by(account))
    lines = [Decided(wear.id, wear.state) for wear in decided_lately(group) if wear.id not in own]
    return sorted(lines, key=lambda line: keys.mac("queue", group.id.bytes + line.id.bytes))


def line_of(wear: Wear, model: Mapping[str, Any]) -> Queued:
    found = [*wear.findings, *((UNLIKE,) if is_unlike(wear, model) else ())]
    weighed = points([(code, SEVERITY_OF[code]) for code in found], given_twice=bool(wear.copied))
    return Queued(wear.id, weighed, wear.appealed, (*found, *(("given_twice",) if wear.copied else ())))


def wear_for_moderator(group: Group, wear_id: UUID, *, account: Account) -> CuratedWear:
    """One wear without its owner; that the moderator looked is noted."""
    require_curator(group, account=account)
    require_not_own(wear_id, account=account)
    wear = wear_before(group, wear_id)
    if wear is None:
        raise NotFound(NOT_IN_QUEUE)
    note_look(wear_id, by=account)
    return curated(wear, model=model_for(group), with_pairs=shows_pairs(group, wear, account=account))


def record_of(group: Group, *, account: Account, after: int = 0) -> list[Decision]:
    """A page of the group's record in its order; `after` is the number of the last entry read."""
    require(Permission.RECORD_READ, group=group, account=account)
    entries = Decision.objects.filter(group=group, number__gt=after).order_by("number")
    return list(entries[:RECORD_PAGE])
