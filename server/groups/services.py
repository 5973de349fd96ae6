"""Writes of groups: founding, joining and leaving, roles, and new versions of a protocol."""

from collections.abc import Mapping
from typing import Any, Final
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Model

from pooling.vocabulary import METER_CLASSES, SITES
from server.accounts.models import Account
from server.core import clock, journal
from server.core.errors import Conflict, Fault, Invalid, NotFound
from server.core.selectors import sensor_models
from server.groups import selectors
from server.groups.invitations import group_of_code, use_up
from server.groups.models import EVERYONE, Group, Membership, Protocol, Role, Wearers
from server.groups.naming import require_plain
from server.groups.permissions import Permission
from server.groups.signals import member_left

LEFT_GROUP: Final = "left-group"
NAME_OF_EVERYONE: Final = "Everyone"
PROTOCOL_FIELDS: Final = (
    "k",
    "fewest_pairs",
    "widest_gap_min",
    "highest_rate_mg_dl_min",
    "first_day",
    "accepted_models",
    "accepted_sites",
    "accepted_meter_classes",
    "editions_before_model_given_up",
    "editions_before_site_given_up",
    "months_between_editions",
    "room",
    "joint_rounds",
    "two_person_publishing",
    "curated_by_everyone",
)


def _refuse(pointer: str, message: str) -> Invalid:
    return Invalid(
        "The group's details or rules cannot be taken as they are.", faults=[Fault(pointer=pointer, message=message)]
    )


def _inside(field: str, refusal: Invalid) -> Invalid:
    """The same refusal for details that were sent inside a field."""
    faults = [Fault(pointer=f"#/{field}{each['pointer'][1:]}", message=each["message"]) for each in refusal.faults]
    return Invalid(refusal.detail, faults=faults)


def _check(row: Model) -> None:
    try:
        row.full_clean(exclude=["group"])
    except ValidationError as error:
        faults = [
            Fault(pointer="#" if field == "__all__" else f"#/{field}", message=message)
            for field, messages in error.message_dict.items()
            for message in messages
        ]
        raise Invalid("The group's details or rules cannot be taken as they are.", faults=faults) from None


def _save(row: Model) -> None:
    _check(row)
    row.save()


@transaction.atomic
def found_group(
    *,
    founder: Account,
    slug: str,
    name: str,
    feeds_everyone: bool,
    wearers: str,
    description: str = "",
    public: bool = False,
    protocol: Mapping[str, Any] | None = None,
) -> Group:
    """Found a group whose founder is its first moderator. Whether it feeds everyone never changes afterwards."""
    if slug != slug.lower():
        raise _refuse("#/slug", "Use small letters, so that no two addresses differ by their case alone.")
    require_plain({"name": name, "description": description})
    if Group.objects.filter(slug=slug).exists():
        raise Conflict("This short name is taken. Choose another.")
    group = Group(
        slug=slug,
        name=name,
        description=description,
        public=public,
        feeds_everyone=feeds_everyone,
        wearers=wearers,
        founded_on=clock.today(),
    )
    _save(group)
    Membership.objects.create(group=group, account=founder, role=Role.MODERATOR)
    try:
        _version_with(group, Protocol(group=group, version=1), protocol or {}).save()
    except Invalid as refusal:
        raise _inside("protocol", refusal) from None
    return group


@transaction.atomic
def describe_group(group: Group, *, by: Account, **details: str) -> Group:
    """Change how a group calls and describes itself; its short name and what it promised its members stay."""
    selectors.require(Permission.GROUP_DESCRIBE, group=group, account=by)
    described = Group.objects.select_for_update().get(pk=group.pk)
    for detail, text in details.items():
        if detail not in ("name", "description"):
            raise _refuse(f"#/{detail}", "Only name and description can be changed once a group is founded.")
        setattr(described, detail, text)
    require_plain(details)
    _save(described)
    return described


@transaction.atomic
def see_to_everyone() -> Group:
    """The reserved group, made with the first version of its rules where there is none yet."""
    group, is_new = Group.objects.get_or_create(
        slug=EVERYONE,
        defaults={
            "name": NAME_OF_EVERYONE,
            "description": "All groups that feed it, counted together.",
            "public": True,
            "feeds_everyone": True,
            "wearers": Wearers.MIXED,
            "reserved": True,
            "founded_on": clock.today(),
        },
    )
    if is_new:
        Protocol.objects.create(group=group, version=1)
    return group


@transaction.atomic
def join_group(group: Group, *, account: Account, invitation: str | None = None) -> Membership:
    """Join a public group, or another one with the code of an invitation. Joining twice changes nothing."""
    if group.reserved:
        raise Conflict("Wears can be given to everyone without joining; there is nothing to join.")
    present = Membership.objects.filter(group=group, account=account).first()
    if present is not None:
        return present
    if not group.public and not use_up(invitation, group=group):
        raise NotFound(selectors.NO_SUCH_GROUP)
    journal.undo(LEFT_GROUP, _belonging(group.pk, account.pk))
    return Membership.objects.create(group=group, account=account, role=Role.MEMBER)


def _belonging(group_id: UUID, account_id: UUID) -> bytes:
    return group_id.bytes + account_id.bytes


def join_by_slug(slug: str, *, account: Account, invitation: str | None = None) -> Membership:
    group = Group.objects.filter(slug=slug).first()
    if group is None:
        raise NotFound(selectors.NO_SUCH_GROUP)
    return join_group(group, account=account, invitation=invitation)


def join_by_code(code: str, account: Account) -> bool:
    """Let an account that is being opened into the group that this invitation is for; False where it is for none."""
    group = group_of_code(code)
    if group is None or not use_up(code, group=group):
        return False
    Membership.objects.create(group=group, account=account, role=Role.MEMBER)
    return True


@transaction.atomic
def leave_group(group: Group, *, account: Account) -> None:
    """End a membership; whoever listens takes the member's waiting wears back in the same transaction."""
    Group.objects.select_for_update().get(pk=group.pk)
    membership = Membership.objects.filter(group=group, account=account).first()
    if membership is None:
        raise NotFound(selectors.NO_SUCH_GROUP)
    if Membership.objects.filter(group=group).exclude(pk=membership.pk).exists():
        _keep_a_moderator(membership)
    _end(membership)


def _end(membership: Membership) -> None:
    group, account = membership.group, membership.account
    membership.delete()
    journal.note(LEFT_GROUP, _belonging(group.pk, account.pk))
    member_left.send(sender=Membership, group=group, account=account)


@transaction.atomic
def end_noted_memberships(marks: frozenset[bytes]) -> int:
    """After a restore: end again the memberships that had been ended, a moderator's among them."""
    noted = [
        membership
        for membership in Membership.objects.select_related("group", "account")
        if journal.mark_of(LEFT_GROUP, _belonging(membership.group_id, membership.account_id)) in marks
    ]
    for membership in noted:
        _end(membership)
    return len(noted)


def _keep_a_moderator(membership: Membership) -> None:
    """Refuse to take the last moderator away from a group."""
    others = Membership.objects.filter(group=membership.group_id).exclude(pk=membership.pk)
    if membership.role == Role.MODERATOR and not others.filter(role=Role.MODERATOR).exists():
        raise Conflict("You are the last moderator. Make another member a moderator first.")


@transaction.atomic
def set_role(group: Group, *, member: UUID, role: str, by: Account) -> Membership:
    """Give the member with this pseudonym another role."""
    selectors.require(Permission.MEMBERS_CHANGE, group=group, account=by)
    if role not in Role.values:
        raise _refuse("#/role", f"Choose one of {', '.join(Role.values)}.")
    Group.objects.select_for_update().get(pk=group.pk)
    membership = Membership.objects.filter(group=group, pk=member).first()
    if membership is None:
        raise NotFound("There is no such member in this group.")
    if role == Role.MEMBER:
        _keep_a_moderator(membership)
    membership.role = role
    membership.save(update_fields=["role"])
    return membership


def appoint_moderator(group: Group, *, account: Account) -> Membership:
    """The operator's way to give a group, and the reserved one above all, a moderator."""
    membership, _ = Membership.objects.update_or_create(group=group, account=account, defaults={"role": Role.MODERATOR})
    return membership


def appoint_by_name(slug: str, *, sign_in_name: str) -> Membership:
    group = selectors.group_of_slug(slug)
    account = Account.objects.filter(sign_in_name=sign_in_name.strip().lower()).first()
    if account is None:
        raise NotFound("There is no account of this sign-in name.")
    return appoint_moderator(group, account=account)


@transaction.atomic
def change_protocol(group: Group, *, by: Account, **fields: Any) -> Protocol:
    """Write the next version of the protocol; when nothing differs, the present one stays."""
    selectors.require(Permission.PROTOCOL_CHANGE, group=group, account=by)
    Group.objects.select_for_update().get(pk=group.pk)
    protocol = protocol_with(group, **fields)
    if protocol._state.adding:
        protocol.save()
    return protocol


def protocol_with(group: Group, **fields: Any) -> Protocol:
    """The version that a change would write, checked and not written; the present one when nothing differs."""
    present = selectors.protocol_of(group)
    carried = {name: getattr(present, name) for name in PROTOCOL_FIELDS}
    if {**carried, **fields} == carried:
        return present
    if fields.get("k", present.k) < present.k:
        raise _refuse("#/k", f"Members gave their wears under k = {present.k}; it can be raised, never lowered.")
    return _version_with(group, Protocol(group=group, version=present.version + 1, **carried), fields)


def _version_with(group: Group, protocol: Protocol, fields: Mapping[str, Any]) -> Protocol:
    unknown = sorted(set(fields) - set(PROTOCOL_FIELDS))
    if unknown:
        raise _refuse(f"#/{unknown[0]}", f"A protocol has no such rule; it has {', '.join(PROTOCOL_FIELDS)}.")
    for name, value in fields.items():
        setattr(protocol, name, value)
    _check_lists(protocol)
    _check_against_group(group, protocol)
    _check_k_against_everyone(group, protocol)
    _check(protocol)
    return protocol


def _check_lists(protocol: Protocol) -> None:
    listed = {
        "accepted_models": ({model.slug for model in sensor_models()}, "sensor models of the catalogue"),
        "accepted_sites": (SITES, "sites of the vocabulary"),
        "accepted_meter_classes": (METER_CLASSES, "meter classes of the vocabulary"),
    }
    for rule, (known, words) in listed.items():
        accepted = getattr(protocol, rule)
        if accepted is not None and (not accepted or not set(accepted) <= set(known)):
            raise _refuse(f"#/{rule}", f"Name {words}, or leave it null to take them all.")


def _check_against_group(group: Group, protocol: Protocol) -> None:
    """What a rule means depends on which group it is of."""
    if protocol.room and (group.reserved or not group.feeds_everyone):
        raise _refuse("#/room", "A room has its wears counted in the figures of everyone, so it has to feed everyone.")
    if protocol.curated_by_everyone and (group.reserved or not group.feeds_everyone):
        raise _refuse(
            "#/curated_by_everyone",
            "Moderators of everyone look at wears of groups that feed it, and of no other.",
        )
    if group.reserved and protocol.months_between_editions != 1:
        raise _refuse("#/months_between_editions", "The editions of everyone are the service's own: one each month.")
    waits = (protocol.editions_before_model_given_up, protocol.editions_before_site_given_up)
    if all(isinstance(wait, int) for wait in waits) and waits[0] > waits[1]:
        raise _refuse(
            "#/editions_before_site_given_up", "The site is given up after the sensor model; wait at least as long."
        )


def _check_k_against_everyone(group: Group, protocol: Protocol) -> None:
    """The pool above must ask for at least as many people as every group that feeds it."""
    if not isinstance(protocol.k, int):
        return
    if group.reserved:
        highest = selectors.highest_feeder_k()
        if highest is not None and protocol.k < highest:
            raise _refuse(
                "#/k", f"A group that feeds everyone asks for {highest} people; everyone cannot ask for less."
            )
    elif group.feeds_everyone and protocol.k > (ceiling := selectors.protocol_of(selectors.everyone()).k):
        raise _refuse("#/k", f"A group that feeds everyone can ask for {ceiling} people at most, as everyone does.")
