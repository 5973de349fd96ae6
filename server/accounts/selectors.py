"""Reads of accounts and of the links from a person to data."""

import json
from collections.abc import Collection, Iterable, Sequence
from datetime import date
from hashlib import sha256
from typing import Any, TypedDict
from uuid import UUID

from server.accounts.models import Account, Consent, Holding, PlaceLabel, RememberedMapping, Token, Wearer
from server.core import clock, keys
from server.core.errors import NotFound

CHUNK = 500
COLUMN_MAPPING = "column mapping"


class Owner(TypedDict):
    """Whose a wear is."""

    account_id: UUID
    wearer_id: UUID
    joined_on: date


def account_for_token(token: str) -> Account | None:
    found = Token.objects.select_related("account").filter(digest=sha256(token.encode()).hexdigest()).first()
    if found is None or found.expires_on < clock.today() or not found.account.is_active:
        return None
    return found.account


def wearers_of(account: Account) -> list[Wearer]:
    return list(Wearer.objects.filter(account=account).order_by("id"))


def wearer_of(account: Account, wearer_id: UUID | None) -> Wearer:
    """One of the account's wearers; the account's own self when none is named."""
    wearers = Wearer.objects.filter(account=account)
    found = wearers.filter(pk=wearer_id) if wearer_id else wearers.filter(relation="self").order_by("id")
    wearer = found.first()
    if wearer is None:
        raise NotFound("You keep no such wearer. See GET /api/v1/me/wearers/.")
    return wearer


def consents_of(account: Account) -> list[Consent]:
    return list(Consent.objects.filter(account=account).order_by("number"))


def has_consented(account: Account, scope: str) -> bool:
    last = Consent.objects.filter(account=account, scope=scope).order_by("-number").first()
    return last is not None and last.given


def mappings_of(account: Account) -> list[RememberedMapping]:
    return list(RememberedMapping.objects.filter(account=account).order_by("id"))


def mapping_for_words(account: Account, header_words: Sequence[str]) -> dict[str, Any] | None:
    """What the account confirmed of a table with these header words, in this order."""
    found = RememberedMapping.objects.filter(account=account, mark__in=layout_marks(account, header_words)).first()
    return None if found is None else found.content


def layout_marks(account: Account, header_words: Sequence[str]) -> list[str]:
    """Under each key so far, and under the account: no guess and no other member's mark can be held against them."""
    words = json.dumps(list(header_words)).encode()
    return keys.written_marks(COLUMN_MAPPING, account.id.bytes + sha256(words).digest())


def holding_of(wear_id: UUID) -> Holding | None:
    return Holding.objects.select_related("account", "wearer").filter(pk=wear_id).first()


def wears_held_by(account: Account) -> list[UUID]:
    return list(Holding.objects.filter(account=account).order_by("wear_id").values_list("wear_id", flat=True))


def owners_of(wear_ids: Iterable[UUID]) -> dict[UUID, Owner]:
    """Whose each of these wears is; a wear that nobody holds is left out."""
    owners: dict[UUID, Owner] = {}
    ids = list(wear_ids)
    for start in range(0, len(ids), CHUNK):
        held = Holding.objects.filter(wear_id__in=ids[start : start + CHUNK])
        for wear_id, account_id, wearer_id, joined_on in held.values_list(
            "wear_id", "account_id", "wearer_id", "account__joined_on"
        ):
            owners[wear_id] = Owner(account_id=account_id, wearer_id=wearer_id, joined_on=joined_on)
    return owners


def open_labels_of(account_ids: Collection[UUID]) -> dict[UUID, UUID]:
    """The pool's labels of these accounts, each with the wearer behind it."""
    labels: dict[UUID, UUID] = {}
    ids = sorted(account_ids)
    for start in range(0, len(ids), CHUNK):
        found = PlaceLabel.objects.filter(account_id__in=ids[start : start + CHUNK])
        labels.update(found.values_list("label", "wearer_id"))
    return labels


def accounts_behind_labels() -> dict[UUID, UUID]:
    """Each label that still has an account behind it, with that account."""
    return dict(PlaceLabel.objects.values_list("label", "account_id"))
