"""Who may do what in a group. A stranger is told that there is nothing; a member, that it is for moderators."""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType

from server.groups.models import Role


class Permission(StrEnum):
    GROUP_DESCRIBE = "group:describe"
    MEMBERS_LIST = "members:list"
    MEMBERS_CHANGE = "members:change"
    PROTOCOL_CHANGE = "protocol:change"
    ROUND_OPEN = "round:open"
    INVITATION_MAKE = "invitation:make"
    WEARS_CURATE = "wears:curate"
    SUMS_END = "sums:end"
    RECORD_READ = "record:read"


GRANTED: Mapping[Role, frozenset[Permission]] = MappingProxyType(
    {Role.MEMBER: frozenset(), Role.MODERATOR: frozenset(Permission)}
)


def may(role: str | None, permission: Permission) -> bool:
    return role is not None and permission in GRANTED[Role(role)]
