"""Reads of editions and drafts. What is hidden, what is not there and what is not yours look alike."""

import json
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal
from uuid import UUID

from django.conf import settings
from django.db.models import QuerySet

from pooling.edition.preview import changes_since, withheld_in
from pooling.ledger import CellKey, end_bucket
from server.core.chunks import chunks
from server.core.errors import Gone, NotFound
from server.core.outcomes import Family
from server.editions import calendar
from server.editions.models import (
    Draft,
    DraftState,
    Edition,
    PartState,
    Place,
    RecordKind,
    Retraction,
    RetractionReason,
    SealedRecord,
    Slot,
    TieSeat,
)
from server.editions.permissions import Permission, require
from server.groups.models import Group
from server.groups.selectors import everyone, group_for_reader, months_between_editions

if TYPE_CHECKING:
    from server.accounts.models import Account

DRAFT_STATES = tuple(DraftState.values)
PART_STATES = tuple(PartState.values)
NO_SUCH_EDITION = "There is no such edition, or it is not open to you."
NO_SUCH_DRAFT = "There is no such draft in this group."


@dataclass(frozen=True)
class EditionView:
    """A published edition as a reader gets it: the stored bytes, and what they say."""

    group_slug: str
    is_public: bool
    number: int
    sha256: str
    content: bytes
    certificate: bytes | None = None
    signature: Mapping[str, Any] | None = None

    @cached_property
    def document(self) -> Mapping[str, Any]:
        return json.loads(self.content)


@dataclass(frozen=True, slots=True)
class EditionLine:
    """One edition in a group's list."""

    number: int
    cut_off: date
    published_month: date
    sha256: str
    retracted: "RetractionView | None" = None


@dataclass(frozen=True, slots=True)
class RetractionView:
    """That an edition was taken back, or that a moderator proposes it."""

    reason: str
    in_words: str
    month: date | None


@dataclass(frozen=True, slots=True)
class DraftLine:
    """One draft in a group's list."""

    id: UUID
    number: int
    state: str
    overtaken: bool


@dataclass(frozen=True, slots=True)
class PartView:
    channel: str
    state: str


@dataclass(frozen=True)
class DraftView:
    """A draft as its moderators see it: figures in the form in which they would be published, and no others."""

    id: UUID
    group_slug: str
    number: int
    state: str
    overtaken: bool
    proposed: bool
    parts: tuple[PartView, ...]
    reasons: tuple[str, ...]
    document: Mapping[str, Any] | None
    certificate: Mapping[str, Any] | None
    withheld: Mapping[str, Any] | None
    changes: Mapping[str, Any] | None
    diagnosis: Mapping[str, Any] | None

    @property
    def progress(self) -> dict[str, int]:
        """How many parts are fitted, of how many."""
        return {"done": sum(part.state == PartState.DONE for part in self.parts), "total": len(self.parts)}


def edition_for_reader(slug: str, number: int | Literal["latest"], account: "Account | None") -> EditionView:
    """A published edition; the latest is the newest that was not taken back.

    Raises
    ------
    NotFound
        If there is none, or it is not open to this account.
    Gone
        If it was taken back.
    """
    group = group_for_reader(slug, account)
    if number == "latest":
        edition = _standing(group).order_by("-slot").first()
    else:
        edition = Edition.objects.filter(group=group, slot__number=number).select_related("retraction").first()
    if edition is None:
        raise NotFound(NO_SUCH_EDITION)
    _refuse_retracted(edition)
    return EditionView(
        group.slug,
        group.public,
        edition.number,
        edition.sha256,
        bytes(edition.document),
        None if edition.certificate is None else bytes(edition.certificate),
        edition.signature,
    )


def _standing(group: Group) -> QuerySet[Edition]:
    """A group's editions but those that were taken back."""
    editions = Edition.objects.filter(group=group).select_related("retraction")
    return editions.exclude(retraction__retracted_month__isnull=False)


def _refuse_retracted(edition: Edition) -> None:
    found = _retraction_of(edition)
    if found is not None and found.month is not None:
        raise Gone(
            f"Edition {edition.number} was taken back in {found.month:%Y-%m}: {found.in_words}. Do not use its "
            "figures, tables or charts any more, nor copies of them.",
            reason=found.reason,
        )


def _retraction_of(edition: Edition) -> RetractionView | None:
    found: Retraction | None = getattr(edition, "retraction", None)
    if found is None:
        return None
    return RetractionView(found.reason, RetractionReason(found.reason).label, found.retracted_month)


def retraction_for_moderator(group: Group, number: int, *, account: "Account") -> RetractionView:
    """What was done, or proposed, about taking an edition back."""
    require(Permission.EDITION_RETRACT, group=group, account=account)
    edition = Edition.objects.filter(group=group, slot__number=number).select_related("retraction").first()
    found = None if edition is None else _retraction_of(edition)
    if found is None:
        raise NotFound("Nobody has proposed to take this edition back, or there is no such edition.")
    return found


def model_of_last_edition(group: Group) -> Mapping[str, Any]:
    """The block `model` of the group's last edition, everyone's where it has none and feeds it; empty before both."""
    last = Edition.objects.filter(group=group).order_by("-slot").first()
    if last is None:
        return model_of_last_edition(everyone()) if group.feeds_everyone and not group.reserved else {}
    model: Mapping[str, Any] = json.loads(bytes(last.document))["model"]
    return model


def editions_list(slug: str, account: "Account | None") -> list[EditionLine]:
    """A group's editions, the newest first, with those that were taken back."""
    group = group_for_reader(slug, account)
    editions = Edition.objects.filter(group=group).order_by("-slot").select_related("slot", "retraction")
    lines = editions.defer("document", "certificate", "signature", "rests_on")
    return [
        EditionLine(edition.number, edition.slot.cut_off, edition.published_month, edition.sha256, _in_effect(edition))
        for edition in lines
    ]


def newest_editions(slug: str, account: "Account | None", *, most: int) -> list[EditionView]:
    """The newest editions of a group that stand, with what they say, the newest first."""
    group = group_for_reader(slug, account)
    editions = _standing(group).order_by("-slot")[:most]
    return [EditionView(group.slug, group.public, one.number, one.sha256, bytes(one.document)) for one in editions]


def _in_effect(edition: Edition) -> RetractionView | None:
    found = _retraction_of(edition)
    return found if found is not None and found.month is not None else None


def signing_keys_seen() -> list[str]:
    """Every public key that editions here were signed with."""
    keys = Edition.objects.exclude(signature=None).values_list("signature__public_key", flat=True)
    return sorted(set(keys))


def group_of_slug(slug: str) -> Group:
    """Any group, for the operator."""
    group = Group.objects.filter(slug=slug).first()
    if group is None:
        raise NotFound("There is no such group.")
    return group


def latest_sealed_slot() -> Slot | None:
    return Slot.objects.order_by("-number").first()


def next_to_seal() -> int:
    """The number of the next edition date at which wears are counted."""
    latest = latest_sealed_slot()
    return 1 if latest is None else latest.number + 1


@dataclass(frozen=True, slots=True)
class OpenEnd:
    """A date on which sums end that count now, and the edition dates at which their wears were first counted."""

    end: int
    ends_on: date
    counted_from: date
    counted_to: date


def open_ends() -> list[OpenEnd]:
    """By the calendar alone: whether anything ends there is not said."""
    latest = next_to_seal() - 1
    by_end: dict[int, list[int]] = {}
    for slot in range(1, latest + 1):
        by_end.setdefault(end_bucket(slot), []).append(slot)
    return [
        OpenEnd(end, date_of(end), date_of(slots[0]), date_of(slots[-1]))
        for end, slots in sorted(by_end.items())
        if end > latest
    ]


def date_of(slot: int) -> date:
    return calendar.cut_off_of(slot, first=settings.FIRST_CUT_OFF)


def has_published(slug: str) -> bool:
    return Edition.objects.filter(group__slug=slug).exists()


def next_cut_off(today: date, *, every_months: int = 1) -> date:
    return calendar.next_cut_off_after(today, first=settings.FIRST_CUT_OFF, every_months=every_months)


def next_edition_date(slug: str, account: "Account | None", *, today: date) -> date:
    """When the group's next edition is cut off, by its own calendar."""
    group = group_for_reader(slug, account)
    return next_cut_off(today, every_months=months_between_editions(group))


def drafts_list(group: Group, *, account: "Account | None") -> list[DraftLine]:
    """A group's drafts, those of the newest cut-off first."""
    require(Permission.DRAFT_READ, group=group, account=account)
    latest = latest_sealed_slot()
    drafts = Draft.objects.filter(group=group).order_by("-slot", "id").values_list("id", "slot_id", "state")
    return [DraftLine(key, slot, state, _is_overtaken(slot, latest)) for key, slot, state in drafts]


def draft_for_moderator(group: Group, draft_id: UUID, *, account: "Account | None") -> DraftView:
    require(Permission.DRAFT_READ, group=group, account=account)
    draft = Draft.objects.filter(group=group, pk=draft_id).select_related("group").first()
    if draft is None:
        raise NotFound(NO_SUCH_DRAFT)
    return _draft_view(draft)


def _is_overtaken(slot: int, latest: Slot | None) -> bool:
    return latest is not None and latest.number > slot


def _draft_view(draft: Draft) -> DraftView:
    document = _read(draft.document)
    return DraftView(
        id=draft.pk,
        group_slug=draft.group.slug,
        number=draft.slot_id,
        state=draft.state,
        overtaken=_is_overtaken(draft.slot_id, latest_sealed_slot()),
        proposed=bool(draft.proposer_mark),
        parts=tuple(PartView(part.channel, part.state) for part in draft.parts.order_by("channel")),
        reasons=tuple(draft.reasons),
        document=document,
        certificate=_read(draft.certificate),
        withheld=None if document is None else withheld_in(document),
        changes=None if document is None else changes_since(_last_before(draft), document),
        diagnosis=draft.diagnosis,
    )


def _read(content: bytes | memoryview | None) -> dict[str, Any] | None:
    return None if content is None else json.loads(bytes(content))


def _last_before(draft: Draft) -> dict[str, Any] | None:
    """The group's last edition before this draft that stands."""
    last = _standing(draft.group).filter(slot__lt=draft.slot_id).order_by("-slot").first()
    return None if last is None else _read(last.document)


def places_under(labels: Iterable[UUID]) -> list[dict[str, Any]]:
    """What stands in the pool under these labels: for which sums they count places, and nothing of what these say."""
    places = [
        place
        for chunk in chunks(labels)
        for place in Place.objects.filter(label__in=chunk).select_related("record").order_by("label")
    ]
    ties = Counter(
        seat
        for chunk in chunks(labels)
        for seat in TieSeat.objects.filter(place__in=chunk).values_list("place", flat=True)
    )
    return [
        {
            "label": place.label,
            "sums_of": place.record.kind,
            "outcome": place.record.family,
            "scope": place.record.scope,
            "place": place.record.place,
            "sensor_model": place.record.sensor_model,
            "sums_end_at_cut_off": place.record.end_bucket,
            "ended_early": _has_ended_early(place.record, next_to_seal()),
            "n_wears": place.n_wears,
            "weights": {"q1": place.q1, "q2": place.q2},
            "n_ties": ties[place.label],
        }
        for place in places
    ]


def _has_ended_early(record: SealedRecord, following: int) -> bool:
    """Whether moderators ended sums before their date; nothing else does, whoever leaves."""
    return record.payload is None and record.end_bucket >= following


def outcomes_ended_early(labels: Iterable[UUID], *, site: str, sensor_model: str) -> list[str]:
    """In which outcomes sums that may count such a wear of theirs were ended by moderators before their date.

    Which of the places is of which wear stands nowhere, so it is said of all that a place could hold.
    """
    following = next_to_seal()
    places = [
        place
        for chunk in chunks(labels)
        for place in Place.objects.filter(label__in=chunk, record__kind=RecordKind.BLOCK).select_related("record")
    ]
    ended = {
        place.record.family
        for place in places
        if _has_ended_early(place.record, following)
        and CellKey(place.record.scope, place.record.place, place.record.sensor_model).could_hold(site, sensor_model)
    }
    return [family for family in Family.values if family in ended]
