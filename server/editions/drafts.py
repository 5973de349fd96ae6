"""Reads of drafts, for moderators: figures in the form in which they would be published, and no others."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from uuid import UUID

from pooling.edition.preview import changes_since, withheld_in
from server.core.errors import NotFound
from server.editions.models import Draft, DraftState, Edition, PartState, Slot
from server.editions.permissions import Permission, require
from server.editions.selectors import standing
from server.editions.slots import latest_sealed_slot
from server.groups.models import Group

if TYPE_CHECKING:
    from server.accounts.models import Account

DRAFT_STATES = tuple(DraftState.values)
PART_STATES = tuple(PartState.values)
NO_SUCH_DRAFT = "There is no such draft in this group."


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
    """A draft as its moderators see it."""

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
    last = standing(Edition.objects.filter(group=draft.group)).filter(slot__lt=draft.slot_id).order_by("-slot").first()
    return None if last is None else _read(last.document)
