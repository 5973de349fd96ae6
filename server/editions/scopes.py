"""Whose sums the figures of a group rest on."""

from server.groups.models import Group


def scopes_read_by(group: Group) -> frozenset[str]:
    """A group's figures rest on its own records; those of everyone on its own and those of all groups that feed it."""
    if not group.reserved:
        return frozenset({group.scope})
    return frozenset(feeder.scope for feeder in Group.objects.filter(feeds_everyone=True))
