"""Who may do what with drafts and editions. Editions themselves are read by whoever may read the group."""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import TYPE_CHECKING

from server.core.errors import Forbidden, NotFound
from server.groups.models import Group, Role
from server.groups.selectors import NO_SUCH_GROUP, require_second_factor, role_of

if TYPE_CHECKING:
    from server.accounts.models import Account


class Permission(StrEnum):
    DRAFT_BUILD = "draft:build"
    DRAFT_READ = "draft:read"
    EDITION_PUBLISH = "edition:publish"
    EDITION_RETRACT = "edition:retract"
    NEIGHBOUR_CHANGE = "neighbour:change"


GRANTED: Mapping[Role, frozenset[Permission]] = MappingProxyType(
    {Role.MEMBER: frozenset(), Role.MODERATOR: frozenset(Permission)}
)


def require(permission: Permission, *, group: Group, account: "Account | None") -> None:
    """Refuse the account: to a stranger there is no such group, to a member it is for moderators."""
    role = role_of(account, group)
    if role is None:
        raise NotFound(NO_SUCH_GROUP)
    if permission not in GRANTED[Role(role)]:
        raise Forbidden("Only a moderator of this group can do that. Ask one of them.")
    require_second_factor(account)
