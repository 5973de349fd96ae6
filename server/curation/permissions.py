"""Who may curate. The permissions themselves stand with the roles that grant them, in the groups."""

from collections.abc import Sequence
from uuid import UUID

from server.accounts.models import Account
from server.accounts.selectors import holding_of
from server.core.errors import Conflict, NotFound
from server.curation.models import Action, Decision
from server.curation.record import moderator_marks
from server.groups.models import Group, Membership, Role
from server.groups.permissions import Permission
from server.groups.selectors import require
from server.wears.models import Wear
from server.wears.selectors import NOT_IN_QUEUE


def require_curator(group: Group, *, account: Account) -> None:
    require(Permission.WEARS_CURATE, group=group, account=account)


def require_not_own(wear_id: UUID, *, account: Account) -> None:
    """A moderator's own wears are curated by somebody else, and for the moderator they are not in the queue."""
    holding = holding_of(wear_id)
    if holding is not None and holding.account_id == account.id:
        raise NotFound(NOT_IN_QUEUE)


def require_another(group: Group, wear: Wear, entries: Sequence[Decision], *, account: Account) -> None:
    """An appeal is decided by somebody else than whoever left the wear out, where there is somebody else."""
    excluded = next((entry for entry in reversed(entries) if entry.action == Action.EXCLUDE), None)
    if excluded is None or excluded.moderator_mark not in moderator_marks(account):
        return
    holding = holding_of(wear.id)
    owner = None if holding is None else holding.account_id
    others = Membership.objects.filter(group=group, role=Role.MODERATOR).exclude(account=account)
    if others.exclude(account=owner).exists():
        raise Conflict("You left this wear out, and its owner appeals. Another moderator decides about the appeal.")
