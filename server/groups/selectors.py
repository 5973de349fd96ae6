"""Reads of groups. Whoever may not know of a group is told the same as if there were none."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from django.conf import settings
from django.db.models import F, Q, QuerySet

from pooling.disclosure import Members, band_of_members, small_group
from pooling.summary import SummaryRules
from server.accounts import second_factor
from server.accounts.models import Account
from server.core import keys
from server.core.errors import Conflict, Forbidden, NotFound
from server.groups.models import EVERYONE, FirstDay, Group, Membership, Protocol
from server.groups.permissions import Permission, may


class SecondFactorNeeded(Forbidden):
    code = "second-factor-needed"
    title = "Moderators need a second factor here"


NO_SUCH_GROUP = "There is no such group, or it is not open to you."


def everyone() -> Group:
    return Group.objects.get(slug=EVERYONE)


def public_groups() -> QuerySet[Group]:
    return Group.objects.filter(public=True).order_by("slug")


def groups_of(account: Account) -> QuerySet[Group]:
    """The groups of an account, each with the account's role in it as `own_role`."""
    mine = Group.objects.filter(memberships__account=account)
    return mine.annotate(own_role=F("memberships__role")).order_by("slug")


def groups_to_give_to(account: Account) -> list[Group]:
    """Where an account may give wears: its groups, and everyone last."""
    found = Group.objects.filter(Q(memberships__account=account) | Q(slug=EVERYONE)).distinct().order_by("slug")
    return sorted(found, key=lambda group: group.reserved)


def memberships_of(account: Account) -> list[dict[str, str]]:
    """What an account belongs to, for its owner."""
    rows = Membership.objects.filter(account=account).select_related("group").order_by("group__slug")
    return [{"group": row.group.slug, "pseudonym": str(row.pk), "role": row.role} for row in rows]


def role_of(account: Account | None, group: Group) -> str | None:
    """The account's role in the group; None for somebody outside it."""
    if account is None:
        return None
    return Membership.objects.filter(group=group, account=account).values_list("role", flat=True).first()


def is_member(group: Group, account: Account | None) -> bool:
    return role_of(account, group) is not None


def group_of_slug(slug: str) -> Group:
    """Any group, for the operator."""
    group = Group.objects.filter(slug=slug).first()
    if group is None:
        raise NotFound(f"There is no group {slug}.")
    return group


def group_for_reader(slug: str, account: Account | None) -> Group:
    """A public group for anyone, any other for its members."""
    group = Group.objects.filter(slug=slug).first()
    if group is None or not (group.public or is_member(group, account)):
        raise NotFound(NO_SUCH_GROUP)
    return group


def group_for_member(slug: str, account: Account | None) -> Group:
    group = Group.objects.filter(slug=slug).first()
    if group is None or not is_member(group, account):
        raise NotFound(NO_SUCH_GROUP)
    return group


def group_for_giving(slug: str, account: Account | None) -> Group:
    """A group that this account may give wears to: one it belongs to, or everyone."""
    group = group_for_reader(slug, account)
    if not group.reserved and not is_member(group, account):
        raise Conflict("You do not belong to this group yet. Join it first, then give the wear.")
    return group


def group_with_permission(slug: str, account: Account | None, permission: Permission) -> Group:
    """The group, for those of its members whose role grants the permission."""
    group = group_for_member(slug, account)
    require(permission, group=group, account=account)
    return group


def require(permission: Permission, *, group: Group, account: Account | None) -> None:
    """Refuse the account: to a stranger there is no such group, to a member it is for moderators."""
    role = role_of(account, group)
    if role is None:
        raise NotFound(NO_SUCH_GROUP)
    if not may(role, permission):
        raise Forbidden("Only a moderator of this group can do that. Ask one of them.")
    require_second_factor(account)


def require_second_factor(account: Account | None) -> None:
    """On a public server nobody acts as moderator on a password alone."""
    if settings.MODERATORS_NEED_SECOND_FACTOR and not (account and second_factor.is_on(account)):
        raise SecondFactorNeeded(
            "On this server moderators need a second factor. Switch it on under Your account, Authenticator app "
            "(or POST /api/v1/me/second-factor/), then come back."
        )


def protocol_of(group: Group) -> Protocol:
    """The version of the group's protocol that holds now."""
    return Protocol.objects.filter(group=group).latest("version")


def protocols_now() -> dict[Group, Protocol]:
    """Each group with the version of its protocol that holds now."""
    newest = Protocol.objects.order_by("group_id", "version").select_related("group")
    return {protocol.group: protocol for protocol in newest}


def k_by_scope() -> dict[str, int]:
    """How many people each scope of the pool asks for, by the name it has in cells."""
    return {group.scope: protocol.k for group, protocol in protocols_now().items()}


def months_between_editions(group: Group) -> int:
    return protocol_of(group).months_between_editions


def highest_feeder_k() -> int | None:
    """The highest k among the groups that feed everyone; None while none does."""
    feeders = [protocol.k for group, protocol in protocols_now().items() if group.feeds_everyone and not group.reserved]
    return max(feeders, default=None)


def band_of(group: Group) -> Members:
    """How many members a group has, in bands alone."""
    return band_of_members(Membership.objects.filter(group=group).count())


def small_group_warning(group: Group) -> str:
    """What founders are told: at the beginning every group is small."""
    return small_group(group.feeds_everyone, room=protocol_of(group).room)


def figures_of(group: Group) -> str:
    """The short name of the group whose figures this one shows: its own, or everyone's where it is a room."""
    return EVERYONE if protocol_of(group).room else group.slug


def members_of(group: Group, *, account: Account) -> Sequence[Membership]:
    """A moderator's view of the members: pseudonym and role, in a keyed order that tells nothing about arrival."""
    require(Permission.MEMBERS_LIST, group=group, account=account)
    members = Membership.objects.filter(group=group).only("id", "role", "group_id")
    return sorted(members, key=lambda member: keys.mac("members", group.id.bytes + member.id.bytes))


@dataclass(frozen=True, slots=True)
class RulesInForce:
    """Which pairs of a wear count in a group, and whether the wear is one that counts.

    In a group that feeds everyone it is the stricter of the group's own rules and everyone's, rule by rule: a wear has
    one summary, and that summary may be counted in the group's figures and in everyone's.
    """

    protocol: Protocol
    everyone: Protocol | None

    @property
    def _both(self) -> tuple[Protocol, ...]:
        return (self.protocol,) if self.everyone is None else (self.protocol, self.everyone)

    @property
    def versions(self) -> tuple[int, int]:
        """The versions of the two protocols; 0 for everyone's where it has no say."""
        return self.protocol.version, self.everyone.version if self.everyone else 0

    @property
    def rules(self) -> SummaryRules:
        rates = [one.highest_rate_mg_dl_min for one in self._both if one.highest_rate_mg_dl_min is not None]
        return SummaryRules(
            version=self.protocol.version,
            widest_gap_min=min(one.widest_gap_min for one in self._both),
            highest_rate_mg_dl_min=min(rates, default=None),
            first_day="leave_out" if any(one.first_day == FirstDay.LEAVE_OUT for one in self._both) else "keep",
        )

    @property
    def fewest_pairs(self) -> int:
        return max(one.fewest_pairs for one in self._both)

    @property
    def editions_before_model_given_up(self) -> int:
        return max(one.editions_before_model_given_up for one in self._both)

    @property
    def editions_before_site_given_up(self) -> int:
        return max(one.editions_before_site_given_up for one in self._both)

    def not_taken(self, described: Mapping[str, Any]) -> str | None:
        """Which part of a wear's description is not taken; None where the wear may be given and counted."""
        return next((part for one in self._both if (part := one.not_taken(described)) is not None), None)

    def require_taken(self, described: Mapping[str, Any]) -> None:
        part = self.not_taken(described)
        if part is not None:
            raise Conflict(f"The rules of this group do not take this {NAMES_OF_PARTS[part]}.")


NAMES_OF_PARTS: Final = {"sensor_model": "sensor model", "site": "site", "meter_class": "class of meter"}


def rules_in_force(group: Group) -> RulesInForce:
    """The rules that hold now, for what is curated from now on."""
    return rules_with(group, protocol_of(group))


def rules_with(group: Group, protocol: Protocol) -> RulesInForce:
    """The rules that would hold with another protocol of the group."""
    return _with_everyones(group, protocol, lambda: protocol_of(everyone()))


def rules_of_versions(group: Group, versions: tuple[int, int]) -> RulesInForce:
    """The rules that held when a wear was curated, by the versions that its summary names."""
    own, above = versions
    protocol = Protocol.objects.get(group=group, version=own)
    return _with_everyones(group, protocol, lambda: Protocol.objects.get(group__slug=EVERYONE, version=above))


def _with_everyones(group: Group, protocol: Protocol, above: Callable[[], Protocol]) -> RulesInForce:
    if not group.feeds_everyone:
        return RulesInForce(protocol, None)
    return RulesInForce(protocol, protocol if group.reserved else above())
