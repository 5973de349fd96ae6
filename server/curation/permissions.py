"""Who may curate. The permissions themselves stand with the roles that grant them, in the groups."""

from uuid import UUID

from server.accounts.models import Account
from server.accounts.selectors import holding_of
from server.core.errors import NotFound
from server.groups.models import Group
from server.groups.permissions import Permission
from server.groups.selectors import require


def require_curator(group: Group, *, account: Account) -> None:
    require(Permission.WEARS_CURATE, group=group, account=account)


def require_not_own(wear_id: UUID, *, account: Account) -> None:
    """A moderator's own wears are curated by somebody else, and for the moderator they are not in the queue."""
    holding = holding_of(wear_id)
    if holding is not None and holding.account_id == account.id:
        raise NotFound("There is no such wear in this group's queue.")
