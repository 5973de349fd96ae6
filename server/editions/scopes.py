"""Whose sums the figures of a group rest on."""

from server.editions.models import Draft, Edition, RecordKind, SealedRecord, Slot
from server.groups.models import Group


def scopes_read_by(group: Group) -> frozenset[str]:
    """A group's figures rest on its own records; those of everyone on its own and those of all groups that feed it."""
    if not group.reserved:
        return frozenset({group.scope})
    return frozenset(feeder.scope for feeder in Group.objects.filter(feeds_everyone=True))


def groups_without_draft(slot: Slot) -> list[Group]:
    """Groups whose figures would rest on something and that have neither a draft nor an edition of this slot."""
    open_scopes = set(
        SealedRecord.objects.filter(kind=RecordKind.BLOCK, payload__isnull=False)
        .values_list("scope", flat=True)
        .distinct()
    )
    if not open_scopes:
        return []
    drafted = Draft.objects.filter(slot=slot).values("group")
    published = Edition.objects.filter(slot=slot).values("group")
    groups = Group.objects.exclude(pk__in=drafted).exclude(pk__in=published).order_by("slug")
    return [group for group in groups if scopes_read_by(group) & open_scopes]
