"""Reads of editions. What is hidden, what is not there and what is not yours look alike."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal

from django.db.models import QuerySet

from server.core.errors import Gone, NotFound
from server.editions.models import Edition, Retraction, RetractionReason
from server.editions.permissions import Permission, require
from server.editions.slots import next_cut_off
from server.groups.models import Group
from server.groups.selectors import everyone, group_for_reader, months_between_editions

if TYPE_CHECKING:
    from server.accounts.models import Account

NO_SUCH_EDITION = "There is no such edition, or it is not open to you."


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
    editions = Edition.objects.filter(group=group)
    if number == "latest":
        edition = standing(editions).order_by("-slot").first()
    else:
        edition = editions.filter(slot__number=number).select_related("retraction").first()
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


def standing(editions: QuerySet[Edition]) -> QuerySet[Edition]:
    """But those that were taken back."""
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
    editions = standing(Edition.objects.filter(group=group)).order_by("-slot")[:most]
    return [EditionView(group.slug, group.public, one.number, one.sha256, bytes(one.document)) for one in editions]


def _in_effect(edition: Edition) -> RetractionView | None:
    found = _retraction_of(edition)
    return found if found is not None and found.month is not None else None


def signing_keys_seen() -> list[str]:
    """Every public key that editions here were signed with."""
    keys = Edition.objects.exclude(signature=None).values_list("signature__public_key", flat=True)
    return sorted(set(keys))


def has_published(slug: str) -> bool:
    return Edition.objects.filter(group__slug=slug).exists()


def next_edition_date(slug: str, account: "Account | None", *, today: date) -> date:
    """When the group's next edition is cut off, by its own calendar."""
    group = group_for_reader(slug, account)
    return next_cut_off(today, every_months=months_between_editions(group))
