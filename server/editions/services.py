"""Writes of the app: due cut-offs, drafts, and publishing."""

import hashlib
import json
from contextlib import suppress
from datetime import date
from typing import TYPE_CHECKING
from uuid import UUID

from django.conf import settings
from django.db import IntegrityError, transaction

from server.core import clock
from server.core.errors import Conflict, NotFound
from server.core.locks import single_writer
from server.core.services import enqueue
from server.curation import record
from server.curation.models import Action
from server.curation.services import record_figures
from server.editions import admission, calendar, fitting
from server.editions.drafts import NO_SUCH_DRAFT
from server.editions.jobs import JobKind
from server.editions.models import Draft, DraftState, Edition, Slot
from server.editions.permissions import Permission, require
from server.editions.scopes import groups_without_draft
from server.editions.signing import signed
from server.editions.slots import latest_sealed_slot, next_cut_off
from server.editions.soundness import another_calendar
from server.editions.tellings import told_too_closely
from server.editions.twoperson import is_settled, proposer_mark
from server.editions.wall import sums_only
from server.groups.models import Group
from server.groups.selectors import everyone, protocol_of

if TYPE_CHECKING:
    from server.accounts.models import Account

TOLD_SINCE = "Beside what has been published since it was drafted, this draft would tell too much. Discard it:"


def run_due_cut_offs(today: date) -> tuple[int, ...]:
    """Seal every slot whose date has come, the earliest first; say which were sealed."""
    _refuse_another_calendar()
    done = frozenset(Slot.objects.values_list("number", flat=True))
    due = calendar.due_slots(today, first=settings.FIRST_CUT_OFF, done=done)
    return tuple(slot for slot in due if admission.run_cut_off(slot))


def run_cut_off_of(slot: int, *, today: date) -> bool:
    """Seal one slot on request, not before its date."""
    _refuse_another_calendar()
    cut_off = calendar.cut_off_of(slot, first=settings.FIRST_CUT_OFF)
    if slot < 1 or cut_off > today:
        raise Conflict(f"Slot {slot} is cut off on {cut_off}; nothing can be sealed before.")
    return admission.run_cut_off(slot)


def _refuse_another_calendar() -> None:
    if told := another_calendar():
        raise Conflict(told)


@transaction.atomic
def start_draft(group: Group, *, by: "Account") -> Draft:
    """Start the draft of the edition that belongs to the latest cut-off."""
    require(Permission.DRAFT_BUILD, group=group, account=by)
    return _start(group, _slot_to_draft(group))


def why_no_draft(group: Group) -> str:
    """What keeps a group from starting a draft now, in words; "" where nothing does."""
    try:
        _slot_to_draft(group)
    except Conflict as refusal:
        return refusal.detail
    return ""


def _slot_to_draft(group: Group) -> Slot:
    slot = _slot_for_draft()
    _refuse_without_edition(group, slot)
    if Edition.objects.filter(group=group, slot=slot).exists():
        raise Conflict(f"Edition {slot.number} is published. The next can be drafted after {_next_date()}.")
    return slot


def _start(group: Group, slot: Slot) -> Draft:
    """The draft's row, its parts and their jobs, in one transaction: two that try at once make one draft."""
    try:
        with transaction.atomic():
            draft = Draft.objects.create(group=group, slot=slot)
    except IntegrityError:
        raise Conflict(f"There is a draft of edition {slot.number} already. Publish it or discard it.") from None
    parts = fitting.write_parts(draft)
    for part in parts:
        enqueue(JobKind.FIT_PART, subject=part.pk)
    if not parts:
        enqueue(JobKind.ASSEMBLE_DRAFT, subject=draft.pk)
    return draft


def start_due_drafts(today: date) -> tuple[str, ...]:
    """By the calendar: once for each group and cut-off, the draft of its edition; say of which groups.

    A draft that was refused or discarded is not started again by itself.
    """
    slot = latest_sealed_slot()
    if not settings.DRAFTS_BY_CALENDAR or slot is None or not _is_latest(slot, today):
        return ()
    started = []
    for group in groups_without_draft(slot):
        protocol = protocol_of(group)
        if protocol.room or not calendar.takes_part(slot.number, every_months=protocol.months_between_editions):
            continue
        with suppress(Conflict), transaction.atomic():
            _start(group, slot)
            started.append(group.slug)
    return tuple(started)


def _is_latest(slot: Slot, today: date) -> bool:
    return calendar.latest_slot(today, first=settings.FIRST_CUT_OFF) <= slot.number


def discard_overtaken_drafts(_today: date) -> int:
    """Discard drafts that a later cut-off has overtaken: they can never be published, and nothing is lost with them."""
    slot = latest_sealed_slot()
    if slot is None:
        return 0
    old = Draft.objects.filter(slot__number__lt=slot.number, state__in=(DraftState.FITTING, DraftState.READY))
    return sum(_discard_overtaken(draft_id) for draft_id in old.values_list("pk", flat=True))


@transaction.atomic
def _discard_overtaken(draft_id: UUID) -> bool:
    draft = Draft.objects.select_for_update().get(pk=draft_id)
    if draft.state not in (DraftState.FITTING, DraftState.READY):
        return False
    draft.reasons = [fitting.OVERTAKEN]
    draft.save(update_fields=["reasons"])
    _close(draft, DraftState.DISCARDED)
    return True


def _slot_for_draft() -> Slot:
    slot = latest_sealed_slot()
    if slot is None:
        raise Conflict(f"There is nothing to draft yet: the first cut-off is on {_next_date()}.")
    if not _is_latest(slot, clock.today()):
        raise Conflict("A cut-off is due and has not been sealed yet. Try again in a few minutes.")
    return slot


def _refuse_without_edition(group: Group, slot: Slot) -> None:
    """By the group's rules it may have no figures of its own, or none at this date."""
    protocol = protocol_of(group)
    if protocol.room:
        raise Conflict("This group is a room over the figures of everyone and has none of its own.")
    months = protocol.months_between_editions
    if not calendar.takes_part(slot.number, every_months=months):
        following = next_cut_off(clock.today(), every_months=months)
        raise Conflict(f"This group has an edition every {months} months; the next can be drafted after {following}.")


def _next_date() -> date:
    return next_cut_off(clock.today())


def assemble_draft(draft_id: UUID) -> None:
    fitting.assemble_draft(draft_id, person_of=admission.people_behind_places())


@transaction.atomic
def publish_draft(group: Group, draft_id: UUID, *, by: "Account") -> Edition | None:
    """Turn a draft that is ready into the edition of its slot: the same bytes, for good.

    Where the group asks for two people the first one proposes it: None until a second one confirms.
    """
    require(Permission.EDITION_PUBLISH, group=group, account=by)
    return _publish(group, draft_id, by=by)


@transaction.atomic
def publish_as_operator() -> Edition:
    """Publish everyone's draft for the latest cut-off, on the machine itself."""
    group = everyone()
    draft = Draft.objects.filter(group=group, state=DraftState.READY).order_by("-slot").first()
    if draft is None:
        raise NotFound("There is no draft of everyone's edition that is ready.")
    edition = _publish(group, draft.pk, by=None)
    assert edition is not None  # nobody has to confirm what the operator does
    return edition


def _publish(group: Group, draft_id: UUID, *, by: "Account | None") -> Edition | None:
    record.locked(group)
    edition = _publish_from_sums(group, draft_id, by=by)
    if edition is None:
        slot = Draft.objects.values_list("slot", flat=True).get(pk=draft_id)
        record_figures(group, slot, action=Action.PROPOSE, by=by)
    else:
        record_figures(group, edition.number, action=Action.PUBLISH, by=by)
    return edition


def _publish_from_sums(group: Group, draft_id: UUID, *, by: "Account | None") -> Edition | None:
    with sums_only(), single_writer("cut-off"):
        draft = _locked(group, draft_id)
        if draft.slot != latest_sealed_slot() and draft.state != DraftState.PUBLISHED:
            raise Conflict(fitting.OVERTAKEN)
        if draft.state != DraftState.READY:
            raise Conflict(f"Only a draft that is ready can be published; this one is {draft.state}.")
        if Edition.objects.filter(group=group, slot=draft.slot).exists():
            raise Conflict(f"Edition {draft.slot_id} is published already.")
        if reasons := told_too_closely(json.loads(draft.content), draft.rests_on):
            raise Conflict(f"{TOLD_SINCE} {'; '.join(reasons)}.")
        if by is not None and not is_settled(group, proposed_by=draft.proposer_mark, by=by):
            draft.proposer_mark = proposer_mark(by)
            draft.save(update_fields=["proposer_mark"])
            return None
        edition = _edition_of(draft)
        _close(draft, DraftState.PUBLISHED)
    return edition


def _edition_of(draft: Draft) -> Edition:
    """What was computed is copied and nothing looked up again: nothing that people do meanwhile changes a byte."""
    content = draft.content
    certificate = None if draft.certificate is None else bytes(draft.certificate)
    return Edition.objects.create(
        group=draft.group,
        slot=draft.slot,
        document=content,
        certificate=certificate,
        signature=None if certificate is None else signed(content, certificate),
        rests_on=draft.rests_on,
        sha256=hashlib.sha256(content).hexdigest(),
        published_month=clock.this_month(),
    )


@transaction.atomic
def discard_draft(group: Group, draft_id: UUID, *, by: "Account") -> None:
    require(Permission.DRAFT_BUILD, group=group, account=by)
    draft = _locked(group, draft_id)
    if draft.state == DraftState.PUBLISHED:
        raise Conflict("This draft is published. Its edition can only be taken back, and then its address says so.")
    _close(draft, DraftState.DISCARDED)


def _close(draft: Draft, state: DraftState) -> None:
    """End a draft; what was computed for it goes, that it was there stays."""
    draft.state, draft.document, draft.certificate, draft.diagnosis, draft.proposer_mark = state, None, None, None, ""
    draft.save(update_fields=["state", "document", "certificate", "diagnosis", "proposer_mark"])
    draft.parts.all().delete()


def _locked(group: Group, draft_id: UUID) -> Draft:
    draft = Draft.objects.select_for_update().filter(group=group, pk=draft_id).first()
    if draft is None:
        raise NotFound(NO_SUCH_DRAFT)
    return draft
