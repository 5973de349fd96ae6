"""Which wears lie in which queue: that of their group, or that of everyone where nobody of the group may look.

A group's rules can have its wears looked at by the moderators of everyone; and so is the wear of a moderator who has
no colleague. Nobody but the moderators of its queue sees a wear.
"""

from uuid import UUID

from django.db.models import Exists, OuterRef, Q, QuerySet, Subquery

from server.accounts.models import Account, Holding
from server.groups.models import Group, Membership, Protocol, Role
from server.groups.selectors import band_of, is_member, protocol_of
from server.wears.models import Wear
from server.wears.transitions import State


def wears_of(queue: Group) -> QuerySet[Wear]:
    """Whatever was given and lies in this queue, whether or not it can be seen yet."""
    rules = Protocol.objects.filter(group_id=OuterRef("group_id")).order_by("-version")
    colleagues = Membership.objects.filter(group_id=OuterRef("group_id"), role=Role.MODERATOR)
    owner = Holding.objects.filter(wear_id=OuterRef("pk")).values("account_id")[:1]
    given = Wear.objects.filter(group__isnull=False).annotate(
        elsewhere=Subquery(rules.values("curated_by_everyone")[:1]), owner_id=Subquery(owner)
    )
    of_a_lone_moderator = Exists(colleagues.filter(account_id=OuterRef("owner_id"))) & ~Exists(
        colleagues.exclude(account_id=OuterRef("owner_id"))
    )
    goes_elsewhere = Q(elsewhere=True) | Q(of_a_lone_moderator)
    if queue.reserved:
        return given.filter(Q(group=queue) | goes_elsewhere)
    return given.filter(group=queue).exclude(goes_elsewhere)


def to_decide(queue: Group) -> list[Wear]:
    """Wears that moderators see and have to decide about: not decided yet, or left out with their owner appealing."""
    waits = Q(state=State.QUEUED) | Q(state=State.ADMITTED, appealed=True)
    return list(wears_of(queue).filter(waits, released=True).order_by("pk"))


def decided_lately(queue: Group) -> list[Wear]:
    """Wears decided about since the last edition date, or whose owners are asked: what can still be undone."""
    verdict = Q(state=State.APPROVED, awaited__isnull=True) | (Q(state=State.EXCLUDED) & ~Q(shown_state=State.EXCLUDED))
    decided = wears_of(queue).filter(verdict | Q(state=State.ASKED), released=True)
    return list(decided.only("state").order_by("pk"))


def wear_before(queue: Group, wear_id: UUID) -> Wear | None:
    """A wear of the queue as long as its moderators may see it.

    That is from the release of its batch until the first edition date after they approved it or left it out.
    """
    wear = wears_of(queue).select_related("group").filter(pk=wear_id, released=True).first()
    if wear is None or (wear.state == State.ADMITTED and not wear.appealed):
        return None
    is_told = wear.state == wear.shown_state == State.EXCLUDED
    return None if is_told or (wear.state == State.APPROVED and wear.awaited.exists()) else wear


def shows_pairs(queue: Group, wear: Wear, *, account: Account) -> bool:
    """Whether readings are shown, rounded: not to people of a small group, who could know each other by them."""
    group = wear.group
    if group is None or group.reserved:
        return True
    if group.pk != queue.pk and not is_member(group, account):
        return True
    return band_of(group) != "under_25" and not protocol_of(group).room
