"""Writes of wears: upload, giving and taking back, and erasure."""

from dataclasses import dataclass
from datetime import date
from typing import Any, Final
from uuid import UUID

from django.db import transaction
from django.db.models import Q
from msgspec.structs import replace

from pooling import summary as summaries
from pooling.checks import Finding, find
from pooling.columns import PairColumns, columns_from, pack
from pooling.record import WearRecord, from_header, header_of
from pooling.summary import SummaryRules
from server.accounts.models import Account, AgeClass, Holding, Scope, Wearer
from server.accounts.selectors import objection, wears_held_by
from server.core import clock, journal
from server.core.chunks import chunks
from server.core.errors import Conflict, NotFound
from server.core.idempotency import forget_answers
from server.core.locks import hold_rows
from server.groups.models import WIDEST_GAP_CEILING_MIN, Group, Wearers
from server.groups.rounds import require_kept
from server.groups.selectors import is_member, rules_in_force
from server.wears.copies import likeness_of
from server.wears.models import Awaited, Wear, WearPairs, WearSummary
from server.wears.plans import believed, plan_mark
from server.wears.records import read_record
from server.wears.steps import has_readings, own, step
from server.wears.transitions import GIVEN, State

MONTHS_KEPT: Final = 12
ERASED_WEAR: Final = "erased-wear"  # what the erasure journal says of wears
TAKEN_BACK: Final = "taken-back"
UPLOAD_RULES: Final = SummaryRules(
    version=0, widest_gap_min=WIDEST_GAP_CEILING_MIN, highest_rate_mg_dl_min=None, first_day="keep"
)


@dataclass(frozen=True, slots=True, repr=False)
class UploadResult:
    """A wear that has been kept, and what was remarked about it by itself."""

    wear: Wear
    findings: tuple[Finding, ...]


# Upload


@transaction.atomic
def accept_upload(raw: bytes, *, account: Account, wearer: Wearer) -> UploadResult:
    """Take a wear record as it came, or refuse it with every fault in it; of a refused one nothing is kept."""
    _require_consent(account, Scope.KEEP, wearer)
    record = read_record(raw)
    require_kept(record, account=account)
    record, told = believed(record, account=account, wearer=wearer)
    columns = columns_from(record)
    findings = (*find(columns, record), *told)
    wear = Wear(
        findings=[finding.code for finding in findings],
        uploaded_month=clock.today().replace(day=1),
    )
    wear.header = _header_at_rest(record, wear.id)
    wear.likeness = likeness_of(columns, wear_id=wear.id)
    wear.save(force_insert=True)
    WearPairs.objects.create(wear=wear, block=pack(columns), erase_on=month_after(wear.uploaded_month, MONTHS_KEPT))
    summary_of(wear, columns, UPLOAD_RULES).save(force_insert=True)
    Holding.objects.create(account=account, wearer=wearer, wear_id=wear.id)
    return UploadResult(wear, findings)


def _require_consent(account: Account, scope: Scope, wearer: Wearer) -> None:
    if refusal := objection(account, scope, wearer=wearer):
        raise Conflict(refusal)


def _header_at_rest(record: WearRecord, wear_id: UUID) -> dict[str, Any]:
    """The record without its pairs. One plan covers several wears, so its token becomes a mark of this wear alone."""
    plan = None if record.plan is None else plan_mark(wear_id, record.plan)
    return header_of(replace(record, plan=plan))


def month_after(month: date, n_months: int) -> date:
    """The first of the month that lies so many whole months later."""
    year, index = divmod(month.year * 12 + month.month - 1 + n_months, 12)
    return date(year, index + 1, 1)


def summary_of(wear: Wear, columns: PairColumns, rules: SummaryRules, *, everyone_version: int = 0) -> WearSummary:
    record = from_header(wear.header)
    summary = summaries.summarise(
        columns,
        worn_min=record.worn_min,
        end_reason=record.end_reason,
        skin_grade=None if record.skin is None else record.skin.grade,
        ratings=record.ratings,
        rules=rules,
    )
    return WearSummary(
        wear=wear,
        protocol_version=rules.version,
        everyone_version=everyone_version,
        n_pairs=summary.strata["all"].n_pairs,
        payload=summaries.to_bytes(summary),
    )


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
    _require_consent(account, Scope.POOL, holding.wearer)
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
