"""Which wears are the same readings: told to their owner at once, to moderators by a worker, and to nobody else.

What knows a wear again (`pooling.likeness`) is kept encrypted and tied to its wear: two copies look different at rest,
and no copy of the database tells that there are two.
"""

import struct
from collections.abc import Iterable, Iterator, Mapping
from itertools import chain
from typing import Any, Final
from uuid import UUID

from django.db import transaction
from django.db.models import QuerySet

from pooling.checks import Finding
from pooling.columns import PairColumns
from pooling.likeness import alike, bands
from pooling.record import WearRecord, header_of
from server.accounts.models import Account, Holding
from server.core import keys
from server.core.chunks import IDS_A_QUERY, chunks
from server.core.locks import hold_rows
from server.wears.models import Wear
from server.wears.transitions import GIVEN, State

PURPOSE: Final = "likeness"
Bands = tuple[int, ...]
Header = Mapping[str, Any]

OWN_DUPLICATE: Final = Finding(
    code="own_duplicate",
    severity="look",
    seen="You have uploaded this wear before, or one that is nearly the same.",
    why="The same readings counted twice would make figures look surer than they are.",
    do="Keep one of the two: do not upload it again, or erase the other; only one of them can enter the pool.",
)
GIVEN_TWICE: Final = Finding(
    code="given_twice",
    severity="look",
    seen="A wear with the same readings, or nearly the same, has been given too.",
    why="The same readings counted twice would make figures look surer than they are.",
    do="Nothing needs doing: one of the two enters at most. Leave this one out if you know it to be the copy.",
)


def likeness_of(columns: PairColumns, *, wear_id: UUID) -> bytes:
    """What is stored to know these readings again. The hashes are chosen by the first key, so that they last."""
    found = _bands_of(columns)
    return keys.encrypt(PURPOSE, struct.pack(f"<{len(found)}q", *found), about=wear_id.bytes)


def _bands_of(columns: PairColumns) -> Bands:
    return tuple(bands(columns, key=keys.derived_key(PURPOSE, version=1)))


def bands_in(stored: bytes, *, wear_id: UUID) -> Bands:
    """The numbers by which a wear is known again; none where it had too few pairs."""
    if not stored:
        return ()
    content = keys.decrypt(PURPOSE, stored, about=wear_id.bytes)
    return struct.unpack(f"<{len(content) // 8}q", content)


def bands_for(wear_ids: Iterable[UUID]) -> dict[UUID, Bands]:
    return {
        wear_id: bands_in(bytes(stored), wear_id=wear_id)
        for chunk in chunks(wear_ids)
        for wear_id, stored in Wear.objects.filter(id__in=chunk).values_list("id", "likeness")
    }


def carry_likeness() -> int:
    """Encrypt everything anew that is not under the newest key; say how many wears it was."""
    behind = [pk for pk, stored in Wear.objects.values_list("id", "likeness") if keys.is_behind(bytes(stored))]
    for chunk in chunks(behind):
        wears = list(Wear.objects.filter(id__in=chunk).only("id", "likeness"))
        for wear in wears:
            content = keys.decrypt(PURPOSE, bytes(wear.likeness), about=wear.id.bytes)
            wear.likeness = keys.encrypt(PURPOSE, content, about=wear.id.bytes)
        Wear.objects.bulk_update(wears, ["likeness"])
    return len(behind)


def copies_told(wear: Wear, *, account: Account) -> list[Finding]:
    """The finding, if the account holds the same readings twice. Nobody else's are looked at: it would tell of them.

    Wears with too few pairs to be told apart are the same when their descriptions are.
    """
    others = _held_by(account).exclude(id=wear.id)
    is_copy = _is_among(others, bands_in(bytes(wear.likeness), wear_id=wear.id), wear.header)
    return [OWN_DUPLICATE] if is_copy else []


def would_be_own_copy(columns: PairColumns, record: WearRecord | None, *, account: Account) -> bool:
    """The same of a wear that is not uploaded, and perhaps not yet described."""
    return _is_among(_held_by(account), _bands_of(columns), None if record is None else header_of(record))


def _held_by(account: Account) -> "QuerySet[Wear]":
    return Wear.objects.filter(id__in=Holding.objects.filter(account=account).values("wear_id"))


def _is_among(others: "QuerySet[Wear]", own: Bands, header: Header | None) -> bool:
    found = {
        wear_id: bands_in(bytes(stored), wear_id=wear_id) for wear_id, stored in others.values_list("id", "likeness")
    }
    if own:
        return alike(own, chain.from_iterable(found.values()))
    unmarked = [wear_id for wear_id, bands in found.items() if not bands]
    # The mark of a plan is of its wear alone, and so tells nothing here.
    return header is not None and any(
        {**header, "plan": None} == {**other, "plan": None}
        for chunk in chunks(unmarked)
        for other in Wear.objects.filter(id__in=chunk).values_list("header", flat=True)
    )


def look_for_copies() -> int:
    """Mark given wears of which a copy has been given or counted; say how many wears had not been looked at.

    Wears marked before are looked at again, since what they are a copy of may have been taken back.
    """
    fresh = list(Wear.objects.filter(copied__isnull=True).values_list("id", flat=True))
    if not fresh:
        return 0
    asked = [*fresh, *Wear.objects.filter(copied=True).values_list("id", flat=True)]
    copied = _copied(bands_for(asked))
    with transaction.atomic():
        hold_rows(Wear.objects.only("pk"), asked)
        for chunk in chunks(asked):
            Wear.objects.filter(id__in=chunk, state__in=GIVEN).update(copied=False)
        for chunk in chunks(copied):
            Wear.objects.filter(id__in=chunk, state__in=GIVEN).update(copied=True)
    return len(fresh)


def _copied(asked: Mapping[UUID, Bands]) -> set[UUID]:
    """Those of the wears asked about that have a copy among all that are given or counted, and these copies."""
    wears_with: dict[int, set[UUID]] = {}
    for wear_id, own in asked.items():
        for band in own:
            wears_with.setdefault(band, set()).add(wear_id)
    copied: set[UUID] = set()
    for wear_id, own in _given_or_counted():
        for band in own:
            if others := wears_with.get(band, set()) - {wear_id}:
                copied |= {wear_id, *others}
    return copied


def _given_or_counted() -> Iterator[tuple[UUID, Bands]]:
    wears = Wear.objects.filter(state__in=(*GIVEN, State.ADMITTED))
    for wear_id, stored in wears.values_list("id", "likeness").iterator(chunk_size=IDS_A_QUERY):
        yield wear_id, bands_in(bytes(stored), wear_id=wear_id)
