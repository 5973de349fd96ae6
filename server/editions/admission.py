"""The cut-off: wears that wait become sums of at least k people, in one committed step.

This is the only module of the app that sees wears or accounts. What it learns about them (who wore what, who sits in
which block) lives in its local variables and is gone when it returns: the commit leaves sums, places under random
labels, and keyed marks. The key that orders the packing and masks the sums is never written down anywhere.
"""

import hmac
import secrets
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import chain
from operator import itemgetter
from typing import Any
from uuid import UUID, uuid4

import numpy as np
from django.conf import settings
from django.db import transaction
from django.db.models import Model

from pooling import ledger, sealing
from pooling.summary import Sealable
from server.accounts.selectors import Owner, accounts_behind_labels, open_labels_of, owners_of
from server.accounts.services import link_labels
from server.core import journal
from server.core.chunks import chunks, pieces
from server.core.errors import Conflict
from server.core.keys import mac
from server.core.locks import single_writer
from server.core.outcomes import Family
from server.core.selectors import sensor_models
from server.editions import closing
from server.editions.calendar import cut_off_of, editions_passed, takes_part
from server.editions.models import Place, RecordKind, SealedRecord, Slot, TieSeat
from server.editions.parts import lots_to_seal, parts_to_seal
from server.editions.spent import Bands, spend, unspent
from server.groups.selectors import k_by_scope
from server.wears.copies import bands_of_each
from server.wears.cutoff import mark_admitted, mark_waiting_slot, show_states
from server.wears.selectors import WaitingWear, summaries_for, waiting_ids, waiting_wears

SEAL_VERSION = sealing.CURRENT
CAPS = {Family.SKIN: 1}  # in figures about skin everybody counts once
BATCH = 500
READ_OF_PLACES = (
    "label",
    "record__scope",
    "record__place",
    "record__sensor_model",
    "record__end_bucket",
    "q1",
    "q2",
    "n_wears",
)


@dataclass(frozen=True, slots=True)
class Person:
    """Whom a wear is of: the account that k counts and the wearer that caps count, under pseudonyms of this run."""

    account_id: UUID
    wearer_id: UUID
    joined_on: date
    account: str
    wearer: str

    @classmethod
    def of(cls, owner: Owner) -> "Person":
        account = mac("ledger account", owner["account_id"].bytes).hex()
        return cls(**owner, account=account, wearer=mac("ledger wearer", owner["wearer_id"].bytes).hex())


@dataclass(frozen=True, slots=True, repr=False)
class Known:
    """What a cut-off reads once for all families: of every wear that waits, and whose the pool's labels are."""

    people: Mapping[UUID, Person]
    summaries: Mapping[UUID, Sealable]
    bands: Mapping[UUID, Bands]
    wearers: Mapping[UUID, UUID]

    @classmethod
    def of(cls, wear_ids: Iterable[UUID]) -> "Known":
        ids = list(wear_ids)
        persons: dict[UUID, Person] = {}
        people = {
            wear_id: persons.get(owner["wearer_id"]) or persons.setdefault(owner["wearer_id"], Person.of(owner))
            for wear_id, owner in owners_of(ids).items()
        }
        wearers = open_labels_of({person.account_id for person in persons.values()})
        bands = {wear_id: np.array(own, dtype=np.int64) for wear_id, own in bands_of_each(ids)}
        return cls(people, summaries_for(ids), bands, wearers)


@dataclass(frozen=True, slots=True, repr=False)
class Entrant:
    """A waiting wear that may be planned for."""

    wear: WaitingWear
    person: Person
    summary: Sealable
    marks: bytes


@dataclass(frozen=True, slots=True)
class OpenPlace:
    """A place of an earlier slot whose record has not ended, with the wearer it belongs to."""

    sealed: sealing.Place
    n_wears: int

    def could_hold(self, wear: WaitingWear) -> bool:
        cell = ledger.CellKey(self.sealed.scope, self.sealed.place, self.sealed.sensor_model)
        return cell.could_hold(wear.site, wear.sensor_model)


def run_cut_off(slot: int, *, slot_key: bytes | None = None) -> bool:
    """Seal one slot, whole or not at all; say whether there was anything left to do.

    A slot that is sealed already is left alone, so the call may be repeated after any failure.
    """
    with transaction.atomic(), single_writer("cut-off"):
        if journal.is_ahead():
            raise Conflict("The database is older than the erasure journal: run `python -m server replay` first.")
        if Slot.objects.filter(number=slot).exists():
            return False
        _refuse_out_of_order(slot)
        closing.end_records(slot)
        mark_waiting_slot(slot=slot)
        key = slot_key or _fresh_key(slot)
        known = Known.of(waiting_ids())
        spend([_admit(slot, family, known, key) for family in Family])
        Slot.objects.create(number=slot, cut_off=cut_off_of(slot, first=settings.FIRST_CUT_OFF))
        show_states()
    return True


def _refuse_out_of_order(slot: int) -> None:
    following = 1 + (Slot.objects.order_by("-number").values_list("number", flat=True).first() or 0)
    if slot != following:
        raise Conflict(f"Cut-offs are sealed one after the other; the next one is {following}.")


def _fresh_key(slot: int) -> bytes:
    """A key that lives for this call; the demo, whose people are invented, derives it so that it can be repeated."""
    if settings.SLOT_KEY_FILE:
        return hmac.digest(settings.SLOT_KEY_FILE.read_bytes(), f"slot {slot}".encode(), "sha256")
    return secrets.token_bytes(32)


def _entrants(slot: int, family: Family, known: Known) -> list[Entrant]:
    """Wears of groups that have an edition now, that somebody holds and that meet the rules; no content twice, ever."""
    waiting = [
        wear
        for wear in waiting_wears(family)
        if wear.meets_rules and takes_part(slot, every_months=wear.months_between_editions)
    ]
    fresh = unspent({wear.wear_id: known.bands[wear.wear_id] for wear in waiting}, family=family)
    return [
        Entrant(wear, known.people[wear.wear_id], summary, fresh[wear.wear_id])
        for wear in waiting
        if wear.wear_id in known.people and wear.wear_id in fresh
        if sealing.has_value(summary := known.summaries[wear.wear_id], family)
    ]


def _admit(slot: int, family: Family, known: Known, slot_key: bytes) -> bytes:
    """Seal what a family takes, and return the marks of what it counted."""
    entrants = _entrants(slot, family, known)
    fewest = sealing.FEWEST_PEOPLE.get(family, ledger.FEWEST_PEOPLE)
    end_bucket, k_of = ledger.end_bucket(slot), {scope: max(k, fewest) for scope, k in k_by_scope().items()}
    open_places = _open_places(entrants, family, known.wearers)
    plan = ledger.plan(
        _waiting(slot, entrants, open_places), slot_key=slot_key, k_of=k_of, cap=CAPS.get(family, ledger.OPEN_WEARS_CAP)
    )
    by_wear = {str(entrant.wear.wear_id): entrant for entrant in entrants}
    accuracy = family is Family.ACCURACY
    lives = {model.slug: int(model.rated_life_days) for model in sensor_models()}
    blocks = [[by_wear[wear] for wear in block.wears] for block in plan.blocks]
    sealed = sealing.seal_slot(
        [
            (block.cell, [_member(entrant, lives) for entrant in inside])
            for block, inside in zip(plan.blocks, blocks, strict=True)
        ],
        ties=plan.ties,
        parts=parts_to_seal(plan, blocks, k_of) if accuracy else (),
        lots=lots_to_seal(plan, blocks, k_of) if accuracy else (),
        open_places=[place.sealed for place in open_places],
        end_bucket=end_bucket,
        version=SEAL_VERSION,
        key=hmac.digest(slot_key, b"masking", "sha256"),
        k=k_of.__getitem__,
        family=family,
    )
    _store(sealed, blocks, k_of)
    admitted = [entrant for inside in blocks for entrant in inside]
    mark_admitted(sorted(entrant.wear.wear_id for entrant in admitted), family=family, end_bucket=end_bucket)
    return b"".join(entrant.marks for entrant in admitted)


def _open_places(entrants: Sequence[Entrant], family: Family, wearers: Mapping[UUID, UUID]) -> list[OpenPlace]:
    """Places in the family's blocks that go on, of the accounts that have a wear waiting."""
    pseudonyms = {entrant.person.wearer_id: entrant.person.wearer for entrant in entrants}
    places = Place.objects.filter(
        record__kind=RecordKind.BLOCK, record__family=family, record__payload__isnull=False
    ).order_by("label")
    return [
        OpenPlace(
            sealing.Place(
                person=pseudonyms[wearers[label]],
                scope=scope,
                place=place,
                sensor_model=sensor_model,
                end_bucket=end_bucket,
                q1=tuple(q1),
                q2=tuple(q2),
            ),
            n_wears,
        )
        for chunk in chunks(label for label, wearer in wearers.items() if wearer in pseudonyms)
        for label, scope, place, sensor_model, end_bucket, q1, q2, n_wears in places.filter(
            label__in=chunk
        ).values_list(*READ_OF_PLACES)
    ]


def _waiting(slot: int, entrants: Iterable[Entrant], open_places: Iterable[OpenPlace]) -> list[ledger.Waiting]:
    """The entrants in the planner's words. An account that joined after the last cut-off does not count yet."""
    last_cut_off = cut_off_of(slot - 1, first=settings.FIRST_CUT_OFF)
    held: dict[str, list[OpenPlace]] = {}
    for place in open_places:
        held.setdefault(place.sealed.person, []).append(place)
    return [
        ledger.Waiting(
            wear=str(entrant.wear.wear_id),
            person=entrant.person.account,
            wearer=entrant.person.wearer,
            group=entrant.wear.scope,
            feeds_everyone=entrant.wear.feeds_everyone,
            site=entrant.wear.site,
            sensor_model=entrant.wear.sensor_model,
            waited=editions_passed(
                entrant.wear.waiting_since_slot, slot, every_months=entrant.wear.months_between_editions
            ),
            aged=entrant.person.joined_on <= last_cut_off,
            places_open=sum(
                place.n_wears for place in held.get(entrant.person.wearer, ()) if place.could_hold(entrant.wear)
            ),
            before_model_given_up=entrant.wear.before_model_given_up,
            before_site_given_up=entrant.wear.before_site_given_up,
        )
        for entrant in entrants
    ]


def _member(entrant: Entrant, lives: Mapping[str, int]) -> sealing.Member:
    return sealing.Member(
        person=entrant.person.wearer,
        account=entrant.person.account,
        summary=entrant.summary,
        rated_life_days=lives[entrant.wear.sensor_model],
        by_lot=entrant.wear.by_lot,
    )


def _store(sealed: sealing.SlotSeal, blocks: Sequence[Sequence[Entrant]], k_of: Mapping[str, int]) -> None:
    """Write the sums and the places, each table in the order of its random ids, and few rows at a time."""
    records = (sealed.blocks, sealed.bundles, sealed.parts, sealed.overlaps, sealed.ties)
    block_ids, bundle_ids, part_ids, overlap_ids, tie_ids = ([uuid4() for _ in own] for own in records)
    record_ids = (*block_ids, *bundle_ids, *part_ids, *overlap_ids, *tie_ids)
    _create(
        SealedRecord,
        zip(record_ids, chain(*records), strict=True),
        lambda own_id, record: _row(own_id, record, k_of[record.scope]),
    )

    n_wears = [Counter(entrant.person.wearer for entrant in inside) for inside in blocks]
    seats = [(uuid4(), block_ids[own.block], own.person, own) for own in sealed.places]
    people_of = (*sealed.bundle_people, *sealed.part_people)
    bundled = [
        (uuid4(), record_id, wearer, None)
        for record_id, wearers in zip([*bundle_ids, *part_ids], people_of, strict=True)
        for wearer in wearers
    ]

    def place(label: UUID, record_id: UUID, wearer: str, own: sealing.Place | None) -> Place:
        if own is None:
            return Place(label=label, record_id=record_id)
        of_block = n_wears[own.block][wearer]
        return Place(label=label, record_id=record_id, n_wears=of_block, q1=own.q1, q2=own.q2)

    _create(Place, chain(seats, bundled), place)
    _create(
        TieSeat,
        _tie_seats(tie_ids, sealed.tie_places, [label for label, *_ in seats]),
        lambda own_id, tie, label, linker: TieSeat(id=own_id, record_id=tie, place_id=label, linker=linker),
    )
    people = {entrant.person.wearer: entrant.person for inside in blocks for entrant in inside}
    link_labels(
        (label, people[wearer].account_id, people[wearer].wearer_id) for label, _, wearer, _ in chain(seats, bundled)
    )


def _tie_seats(
    tie_ids: Sequence[UUID], tie_places: Sequence[Sequence[Sequence[int]]], labels: Sequence[UUID]
) -> Iterator[tuple[UUID, UUID, UUID, UUID]]:
    for tie_id, linkers in zip(tie_ids, tie_places, strict=True):
        for own in linkers:
            linker = uuid4()
            yield from ((uuid4(), tie_id, labels[index], linker) for index in own)


def _create(model: type[Model], told: Iterable[tuple[Any, ...]], row: Callable[..., Model]) -> None:
    """Insert in the order of the random primary keys, so that no table keeps who was written beside whom.

    What is told of a row begins with its key; the rows themselves, which take ten times as much room, are made few at
    a time.
    """
    for some in pieces(sorted(told, key=itemgetter(0)), of=BATCH):
        model._default_manager.bulk_create([row(*own) for own in some])


def _row(own_id: UUID, record: sealing.SealedRecord, k: int) -> SealedRecord:
    payload = record.to_payload()
    return SealedRecord(
        id=own_id,
        family=record.family,
        kind=payload["kind"],
        scope=record.scope,
        place=payload.get("place", ""),
        sensor_model=payload.get("sensor_model"),
        end_bucket=record.end_bucket,
        seal_version=record.seal_version,
        k=k,
        payload=payload,
    )


def people_behind_places() -> dict[str, str]:
    """For the auditor: which places are of one person, as far as that is still known, under pseudonyms."""
    return {str(label): mac("audit person", account.bytes).hex() for label, account in accounts_behind_labels().items()}
