"""Writes of wears: upload, giving and taking back, and erasure."""

from datetime import date
from typing import Final
from uuid import UUID

from django.db import transaction
from django.db.models import Q

from server.accounts.models import Account, AgeClass, Holding, Scope, Wearer
from server.accounts.selectors import wears_held_by
from server.core import journal
from server.core.chunks import chunks
from server.core.errors import Conflict, NotFound
from server.core.idempotency import forget_answers
from server.core.locks import hold_rows
from server.groups.models import Group, Wearers
from server.groups.selectors import is_member, rules_in_force
from server.wears.intake import UploadResult, accepting, require_consent
from server.wears.models import Awaited, Wear, WearPairs
from server.wears.steps import has_readings, own, step
from server.wears.transitions import GIVEN, State

ERASED_WEAR: Final = "erased-wear"  # what the erasure journal says of wears
TAKEN_BACK: Final = "taken-back"


# Upload


@transaction.atomic
def accept_upload(raw: bytes, *, account: Account, wearer: Wearer) -> UploadResult:
    """Take a wear record as it came, or refuse it with every fault in it; of a refused one nothing is kept."""
    with accepting(account) as intake:
        return intake.take(raw, wearer=wearer)


# Owners: give, take back, erase


@transaction.atomic
def give_to_group(wear_id: UUID, *, account: Account, group: Group) -> Wear:
    """Give a wear of one's own to a group one belongs to, or straight to everyone; out of another group it goes."""
    Group.objects.select_for_update().get(pk=group.pk)  # so that nobody gives while they are leaving
    wear, holding = own(wear_id, account)
    if wear.state == State.ADMITTED:
        raise Conflict("This wear is counted already and can enter no group again.")
    if wear.group_id == group.id:
        return wear
    require_consent(account, Scope.POOL, holding.wearer)
    _check_welcome(wear, holding, group)
    if wear.state != State.PRIVATE:
        back_to_private(wear)
    wear.group = group
    wear.copied = None  # a worker looks
    journal.undo(TAKEN_BACK, _given(wear))
    step(wear, State.QUEUED, shown=True)
    return wear


def _check_welcome(wear: Wear, holding: Holding, group: Group) -> None:
    if not group.reserved and not is_member(group, holding.account):
        raise NotFound("There is no such group, or you do not belong to it. Join it first.")
    if group.wearers not in (Wearers.MIXED, holding.wearer.age_class):
        raise Conflict(f"The figures of this group are about {_about(group)}; this wear is not.")
    rules_in_force(group).require_taken(wear.header)
    if not has_readings(wear):
        raise Conflict(
            "The readings of this wear have been erased on the date set at upload. Without them nobody can check it, "
            "so it can enter no group any more."
        )


def _about(group: Group) -> str:
    return "children" if group.wearers == Wearers.CHILD else "adults"


def _given(wear: Wear) -> bytes:
    assert wear.group_id is not None
    return wear.pk.bytes + wear.group_id.bytes


def back_to_private(wear: Wear) -> None:
    journal.note(TAKEN_BACK, _given(wear))
    wear.group, wear.copied = None, False
    wear.released = wear.appealed = False
    step(wear, State.PRIVATE, shown=True)


@transaction.atomic
def take_back(wear_id: UUID, *, account: Account) -> None:
    """Take a wear out of its group: one that waits is private again, one that was counted is erased at once.

    The sums that count an admitted wear are of at least k people and name nobody; they end on their date, and no
    sealed record is touched here.
    """
    wear, holding = own(wear_id, account)
    if wear.state == State.ADMITTED:
        _erase(wear, holding)
    elif wear.state in GIVEN:
        back_to_private(wear)


@transaction.atomic
def take_back_from_group(group: Group, *, account: Account) -> None:
    """Take back whatever of this account waits in the group; what was counted stays as it is, and no more of it is."""
    _take_back_waiting(Q(group_id=group.id), account)


@transaction.atomic
def take_back_from_all_groups(*, account: Account) -> None:
    """The same in every group, so that moderators see nothing more of somebody who wants no wear to be counted."""
    _take_back_waiting(Q(), account)


def _take_back_waiting(where: Q, account: Account) -> None:
    held = hold_rows(Wear.objects.filter(where), wears_held_by(account))
    for wear in held:
        if wear.state in GIVEN:
            back_to_private(wear)
    for chunk in chunks(wear.pk for wear in held):
        Awaited.objects.filter(wear_id__in=chunk).delete()


@transaction.atomic
def erase_wear(wear_id: UUID, *, account: Account) -> None:
    """Erase a wear of one's own: readings, summary, record and the link to the account."""
    wear, holding = own(wear_id, account)
    _erase(wear, holding)


def _erase(wear: Wear, holding: Holding) -> None:
    journal.note(ERASED_WEAR, wear.pk.bytes)
    wear.delete()
    # The answer to the upload, kept for a day, tells of it.
    forget_answers(holding.account_id)
    holding.delete()


@transaction.atomic
def erase_wears_of(account: Account) -> None:
    """Erase every wear of an account that closes; its holdings go with the account."""
    for chunk in chunks(wear.pk for wear in hold_rows(Wear.objects.only("pk"), wears_held_by(account))):
        Wear.objects.filter(id__in=chunk).delete()


@transaction.atomic
def erase_held_wears(account: Account, *, children_only: bool = False) -> None:
    """Erase every wear of an account that stays open, or every one of its children's."""
    held = Holding.objects.filter(account=account)
    of_wear = {
        holding.wear_id: holding
        for holding in (held.filter(wearer__age_class=AgeClass.CHILD) if children_only else held)
    }
    for wear in hold_rows(Wear.objects.all(), of_wear):
        _erase(wear, of_wear[wear.pk])


@transaction.atomic
def erase_due_pairs(*, today: date) -> int:
    """Erase the readings whose date has come; summaries and own records stay.

    Sums end 19 cut-offs after admission at the earliest, and a month lies between two, so the date comes first. Where
    cut-offs were made up for late, the cut-off that ends the sums sees to it.
    """
    n_deleted, _ = WearPairs.objects.filter(erase_on__lte=today).delete()
    if n_deleted:
        journal.leave_no_trace()
    return n_deleted


# After a restore


@transaction.atomic
def erase_noted_wears(marks: frozenset[bytes]) -> int:
    """Erase again what had been erased, with the link to its owner."""
    noted = [pk for pk in Wear.objects.values_list("pk", flat=True) if journal.mark_of(ERASED_WEAR, pk.bytes) in marks]
    for chunk in chunks(noted):
        Wear.objects.filter(pk__in=chunk).delete()
        Holding.objects.filter(wear_id__in=chunk).delete()
    return len(noted)


@transaction.atomic
def take_back_noted(marks: frozenset[bytes]) -> int:
    """Take back again what had been taken out of a group before it was counted."""
    given = Wear.objects.filter(state__in=GIVEN)
    noted = [wear for wear in given if journal.mark_of(TAKEN_BACK, _given(wear)) in marks]
    for wear in noted:
        back_to_private(wear)
    return len(noted)
