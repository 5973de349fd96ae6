"""Which wears are the same readings: told to their owner at once, to moderators by a worker, and to nobody else.

What knows a wear again (`pooling.likeness`) is kept encrypted and tied to its wear: two copies look different at rest,
and no copy of the database tells that there are two.
"""

import struct
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final
from uuid import UUID

from django.db import transaction

from pooling.checks import Finding
from pooling.columns import PairColumns
from pooling.likeness import bands
from server.accounts.models import Account
from server.accounts.selectors import ids_held_by
from server.core import keys
from server.core.asking import Asked
from server.core.chunks import IDS_A_QUERY, chunks
from server.core.locks import hold_rows
from server.core.stored import stored_bytes
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
    """What is stored to know these readings again."""
    return hidden(bands_of(columns), wear_id=wear_id)


def bands_of(columns: PairColumns) -> Bands:
    """The numbers by which these readings are known again, chosen by the first key, so that they last."""
    return tuple(bands(columns, key=keys.derived_key(PURPOSE, version=1)))


def hidden(found: Bands, *, wear_id: UUID) -> bytes:
    """Such numbers as they are stored."""
    return keys.encrypt(PURPOSE, struct.pack(f"<{len(found)}q", *found), about=wear_id.bytes)


def bands_in(stored: bytes, *, wear_id: UUID) -> Bands:
    """The numbers by which a wear is known again; none where it had too few pairs."""
    if not stored:
        return ()
    content = keys.decrypt(PURPOSE, stored, about=wear_id.bytes)
    return struct.unpack(f"<{len(content) // 8}q", content)


def bands_for(wear_ids: Iterable[UUID]) -> dict[UUID, Bands]:
    return dict(bands_of_each(wear_ids))


def bands_of_each(wear_ids: Iterable[UUID]) -> Iterator[tuple[UUID, Bands]]:
    """The same, one wear after the other and in no order; ask the database nothing else before the last one."""
    for wear_id, stored in stored_bytes(Wear, "likeness", wear_ids):
        yield wear_id, bands_in(stored, wear_id=wear_id)


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
    """The finding, if the account holds the readings of this wear twice."""
    return OwnWears(account, but=wear.id).told_of(bands_in(bytes(wear.likeness), wear_id=wear.id), wear.header)


_HELD: Final = Asked(lambda account: Wear.objects.filter(id__in=ids_held_by(account)).values_list("id", "likeness"))


class OwnWears:
    """What the wears of one account are known by. Nobody else's are looked at: the answer would tell of them."""

    def __init__(self, account: Account, *, but: UUID | None = None) -> None:
        self.n_held = 0
        self._bands: set[int] = set()
        self._with_few_pairs: list[UUID] = []
        self._headers: list[Header] = []
        for wear_id, stored in _HELD(account.pk):
            if wear_id == but:
                continue
            found = bands_in(bytes(stored), wear_id=wear_id)
            self.n_held += 1
            self._bands.update(found)
            if not found:
                self._with_few_pairs.append(wear_id)

    def add(self, own: Bands, header: Header) -> None:
        """Hold another one."""
        self.n_held += 1
        self._bands.update(own)
        if not own:
            self._headers.append(header)

    def told_of(self, own: Bands, header: Header | None) -> list[Finding]:
        """The finding, if a wear with these bands is held; one with few pairs is the same when its description is."""
        is_held = not self._bands.isdisjoint(own) if own else header is not None and self._is_described(header)
        return [OWN_DUPLICATE] if is_held else []

    def _is_described(self, header: Header) -> bool:
        for chunk in chunks(self._with_few_pairs):
            self._headers.extend(Wear.objects.filter(id__in=chunk).values_list("header", flat=True))
        self._with_few_pairs = []
        # The mark of a plan is of its wear alone, and so tells nothing here.
        return any({**header, "plan": None} == {**other, "plan": None} for other in self._headers)


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
