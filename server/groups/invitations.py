"""Invitations: a code that lets a few accounts in, for a while, and never a crowd through one person.

These limits slow down whoever wants to fill a group with invented members. They do not stop somebody with patience.
"""

import hashlib
import secrets
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.db.models import F

from server.accounts.models import Account
from server.core import clock, keys
from server.core.errors import Conflict, Fault, Invalid, NotFound
from server.groups import selectors
from server.groups.models import K_FLOOR, Group, Invitation, InvitedTally
from server.groups.permissions import Permission

MOST_USES: Final = K_FLOOR - 1  # so that no single code lets in a crowd that could surround somebody
MOST_INVITED_AN_INTERVAL: Final = 12
MONTHS_OPEN: Final = 2  # the month in which it is made, and the next


@dataclass(frozen=True, slots=True)
class MadeInvitation:
    """A code as its maker sees it, once."""

    code: str
    uses: int
    expires_on: date


@transaction.atomic
def make_invitation(group: Group, *, by: Account, uses: int = 1) -> MadeInvitation:
    """A code with which so many accounts can join; it is shown once and only its digest is kept."""
    selectors.require(Permission.INVITATION_MAKE, group=group, account=by)
    if not 1 <= uses <= MOST_USES:
        fault = Fault(pointer="#/uses", message=f"An invitation serves 1 to {MOST_USES} accounts.")
        raise Invalid("No invitation was made.", faults=[fault])
    code = secrets.token_urlsafe(18)
    row = Invitation.objects.create(
        group=group,
        code_sha256=_digest(code),
        uses_left=uses,
        expires_on=clock.month_after(clock.today(), MONTHS_OPEN),
        inviter_mark=_marks(group, by)[-1],
    )
    return MadeInvitation(code, uses, row.expires_on)


@dataclass(frozen=True, slots=True)
class OpenInvitation:
    """An invitation that still serves, as the group's moderators see it; its code is not known any more."""

    id: UUID
    uses_left: int
    expires_on: date
    yours: bool


def open_invitations(group: Group, *, account: Account) -> list[OpenInvitation]:
    """What still lets somebody in, whoever made it, in the order of the random ids."""
    selectors.require(Permission.INVITATION_MAKE, group=group, account=account)
    own = _marks(group, account)
    rows = Invitation.objects.filter(group=group, expires_on__gt=clock.today()).order_by("id")
    return [OpenInvitation(row.pk, row.uses_left, row.expires_on, row.inviter_mark in own) for row in rows]


@transaction.atomic
def revoke_invitation(group: Group, invitation_id: UUID, *, by: Account) -> None:
    """End an invitation before its date; who has joined with it stays."""
    selectors.require(Permission.INVITATION_MAKE, group=group, account=by)
    n_revoked, _ = Invitation.objects.filter(group=group, pk=invitation_id).delete()
    if not n_revoked:
        raise NotFound("There is no such invitation in this group.")


def group_of_code(code: str) -> Group | None:
    """The group that an open invitation is for."""
    open_now = Invitation.objects.filter(code_sha256=_digest(code), expires_on__gt=clock.today())
    invitation = open_now.select_related("group").first()
    return None if invitation is None else invitation.group


def use_up(code: str | None, *, group: Group) -> bool:
    """Take one use of an invitation, in the transaction in which somebody joins; False where it opens nothing."""
    if not code:
        return False
    open_now = Invitation.objects.filter(group=group, code_sha256=_digest(code), expires_on__gt=clock.today())
    invitation = open_now.select_for_update().first()
    if invitation is None:
        return False
    _count(invitation.inviter_mark)
    open_now.update(uses_left=F("uses_left") - 1)
    open_now.filter(uses_left=0).delete()
    return True


def _count(inviter_mark: str) -> None:
    """One more account through this inviter between two edition dates; refuse it when there have been enough."""
    if settings.DEMO:
        return  # in the invented scenario one person founds a group and fills it in an afternoon
    tally, _ = InvitedTally.objects.get_or_create(inviter_mark=inviter_mark, interval=interval_of(clock.today()))
    counted = InvitedTally.objects.filter(pk=tally.pk, n_joined__lt=MOST_INVITED_AN_INTERVAL)
    if not counted.update(n_joined=F("n_joined") + 1):
        raise Conflict(
            f"Between two edition dates {MOST_INVITED_AN_INTERVAL} accounts can join by invitations of one moderator, "
            "and so many have. Your invitation still serves after the next date, or ask another moderator for one."
        )


def interval_of(today: date) -> date:
    """The month that stands for the time between two cut-offs, which fall on one day of each month."""
    return (today - timedelta(days=settings.FIRST_CUT_OFF.day - 1)).replace(day=1)


def drop_expired(today: date) -> None:
    Invitation.objects.filter(expires_on__lte=today).delete()
    InvitedTally.objects.filter(interval__lt=interval_of(today)).delete()


def _digest(code: str) -> str:
    return hashlib.sha256(code.encode()).hexdigest()


def _marks(group: Group, account: Account) -> list[str]:
    return keys.written_marks("inviter", group.pk.bytes + account.pk.bytes)
