"""Reads of accounts and of the links from a person to data."""

import json
from collections.abc import Collection, Iterable, Iterator, Sequence
from datetime import date
from hashlib import sha256
from typing import Any, Final, TypedDict
from uuid import UUID

from django.contrib.auth.models import AnonymousUser
from django.db.models import F, QuerySet

from server.accounts.consents import CONSENT_VERSION
from server.accounts.models import (
    Account,
    AgeClass,
    Consent,
    Holding,
    PlaceLabel,
    RememberedMapping,
    Scope,
    Wearer,
)
from server.core import clock, keys
from server.core.asking import Asked
from server.core.chunks import chunks
from server.core.errors import NotFound

CHUNK = 500
CHAIN_START = "0" * 64
COLUMN_MAPPING = "column mapping"


class Owner(TypedDict):
    """Whose a wear is."""

    account_id: UUID
    wearer_id: UUID
    joined_on: date


_SIGNED_IN: Final = Asked(
    lambda digest: Account.objects.filter(tokens__digest=digest, is_active=True).annotate(
        signed_in_until=F("tokens__expires_on")
    )
)
_OWN_SELF: Final = Asked(lambda account: Wearer.objects.filter(account=account, relation="self").order_by("id")[:1])
_NAMED: Final = Asked(lambda account, wearer: Wearer.objects.filter(account=account, pk=wearer))
_CONSENTS: Final = Asked(lambda pseudonym: Consent.objects.filter(pseudonym=pseudonym).order_by("number"))


def account_for_token(token: str) -> Account | None:
    account = _SIGNED_IN.first(sha256(token.encode()).hexdigest())
    return None if account is None or account.signed_in_until < clock.today() else account


def reader_of(user: Account | AnonymousUser) -> Account | None:
    """Who reads what is open to anybody: an account, which may see more than that, or nobody that is known."""
    return user if user.is_authenticated else None


def wearers_of(account: Account) -> list[Wearer]:
    return list(Wearer.objects.filter(account=account).order_by("id"))


def wearer_of(account: Account, wearer_id: UUID | None) -> Wearer:
    """One of the account's wearers; the account's own self when none is named."""
    wearer = _NAMED.first(account.pk, wearer_id) if wearer_id else _OWN_SELF.first(account.pk)
    if wearer is None:
        raise NotFound("You keep no such wearer. See GET /api/v1/me/wearers/.")
    return wearer


def consents_of(account: Account) -> list[Consent]:
    return _CONSENTS(account.pseudonym)


def switches_of(account: Account) -> dict[str, Consent]:
    """The last word on each switch that was ever turned."""
    return {consent.scope: consent for consent in consents_of(account)}


def has_consented(account: Account, scope: str) -> bool:
    """Whether a switch is on, under whichever text."""
    last = switches_of(account).get(scope)
    return last is not None and last.given


def consents_due(account: Account) -> list[str]:
    """Switches that are on under an older text: nothing new is done under them until the present one is agreed to."""
    return [scope for scope, last in switches_of(account).items() if last.given and last.text_version < CONSENT_VERSION]


def objection(account: Account, scope: Scope, *, wearer: Wearer) -> str:
    """Why nothing new may be done under this switch for this wearer; "" when it may."""
    asked = [scope, Scope.GUARDIAN] if wearer.age_class == AgeClass.CHILD else [scope]
    switches = switches_of(account)
    for each in asked:
        last = switches.get(each)
        if last is None or not last.given:
            return f"You have not agreed to this: {each.label}. Turn on the switch {each.value} first."
        if last.text_version < CONSENT_VERSION:
            return (
                f"The text that you agreed to has changed. Read version {CONSENT_VERSION} of it at GET "
                f"/api/v1/me/consents/ and turn on the switch {each.value} again."
            )
    if has_come_of_age(wearer, today=clock.today()):
        return "This wearer has come of age and decides alone now. Let them join, or add them as an adult who agrees."
    return ""


def has_come_of_age(wearer: Wearer, *, today: date) -> bool:
    return wearer.of_age_month is not None and wearer.of_age_month <= today


def unwilling(wear_ids: Iterable[UUID]) -> list[UUID]:
    """Those of the wears that may be counted no longer: a switch is off, or a child has come of age."""
    held = Holding.objects.select_related("account", "wearer").order_by("wear_id")
    return [wear_id for chunk in chunks(wear_ids) for wear_id in _unwilling(list(held.filter(wear_id__in=chunk)))]


def _unwilling(holdings: Sequence[Holding]) -> Iterator[UUID]:
    asked = {holding.account.pseudonym for holding in holdings}
    said = Consent.objects.filter(pseudonym__in=asked, scope__in=(Scope.POOL, Scope.GUARDIAN)).order_by("number")
    # The last word on each switch stands.
    words = {(scope, pseudonym): given for scope, pseudonym, given in said.values_list("scope", "pseudonym", "given")}
    for holding in holdings:
        scopes = (Scope.POOL, Scope.GUARDIAN) if holding.wearer.age_class == AgeClass.CHILD else (Scope.POOL,)
        willing = all(words.get((scope, holding.account.pseudonym), False) for scope in scopes)
        if not willing or has_come_of_age(holding.wearer, today=clock.today()):
            yield holding.wear_id


def chained(previous_hash: str, consent: Consent) -> str:
    """The hash of an entry over all that it says and the hash before it."""
    content = {
        "previous": previous_hash,
        "pseudonym": str(consent.pseudonym),
        "number": consent.number,
        "scope": str(consent.scope),
        "text_version": consent.text_version,
        "given": consent.given,
        "on": consent.on.isoformat(),
    }
    return sha256(json.dumps(content, sort_keys=True, separators=(",", ":")).encode()).hexdigest()


def is_whole(consents: Sequence[Consent]) -> bool:
    """Whether each entry of a record follows from the one before: none changed, left out or put in on its own.

    A record cut short at its end, or written anew from some entry on, is seen by whoever kept a later hash.
    """
    previous = CHAIN_START
    for number, consent in enumerate(consents, start=1):
        previous = chained(previous, consent)
        if consent.number != number or consent.chain_hash != previous:
            return False
    return True


def told_of_broken_records() -> list[str]:
    n_broken = len(broken_records())
    words = f"{n_broken} records of consent are not whole: somebody wrote in the database. Put back a copy from before."
    return [words] if n_broken else []


def broken_records() -> list[UUID]:
    """Pseudonyms whose record of consents is not whole."""
    records: dict[UUID, list[Consent]] = {}
    for consent in Consent.objects.order_by("pseudonym", "number"):
        records.setdefault(consent.pseudonym, []).append(consent)
    return [pseudonym for pseudonym, record in records.items() if not is_whole(record)]


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
    return list(ids_held_by(account).order_by("wear_id"))


def ids_held_by(account: Account | UUID) -> QuerySet[Holding, UUID]:
    """The ids of the account's wears, not read yet: a query about wears can ask among them."""
    return Holding.objects.filter(account=account).values_list("wear_id", flat=True)


def wears_held_on(account: Account, wearer: Wearer) -> list[UUID]:
    """The account's wears on one of its wearers."""
    held = Holding.objects.filter(account=account, wearer=wearer)
    return list(held.order_by("wear_id").values_list("wear_id", flat=True))


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
