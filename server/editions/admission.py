"""The cut-off: wears that wait become sums of at least k people, in one committed step.

This is the only module of the app that sees wears or accounts. What it learns about them (who wore what, who sits in
which block) lives in its local variables and is gone when it returns: the commit leaves sums, places under random
labels, and keyed marks. The key that orders the packing and masks the sums is never written down anywhere.
"""

import hmac
import secrets
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID, uuid4

from django.conf import settings
from django.db import transaction
from django.db.models import Model

from pooling import ledger, sealing
from pooling.summary import Sealable
from server.accounts.selectors import Owner, accounts_behind_labels, open_labels_of, owners_of
from server.accounts.services import link_labels
from server.core import journal
from server.core.errors import Conflict
from server.core.keys import mac
from server.core.locks import single_writer
from server.core.outcomes import Family
from server.core.selectors import sensor_models
from server.editions import closing
from server.editions.calendar import cut_off_of, editions_passed, takes_part
from server.editions.models import Place, RecordKind, SealedRecord, Slot, TieSeat
from server.editions.parts import lots_to_seal, parts_to_seal
from server.editions.spent import spend, unspent
from server.groups.selectors import k_by_scope
from server.wears.copies import bands_for
from server.wears.cutoff import mark_admitted, mark_waiting_slot, show_states
from server.wears.selectors import WaitingWear, summaries_for, waiting_ids, waiting_wears

SEAL_VERSION = sealing.CURRENT
CAPS = {Family.SKIN: 1}  # in figures about skin everybody counts once
BATCH = 500


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
    bands: Mapping[UUID, tuple[int, ...]]
    wearers: Mapping[UUID, UUID]

    @classmethod
    def of(cls, wear_ids: Iterable[UUID]) -> "Known":
        ids = list(wear_ids)
        people = {wear_id: Person.of(owner) for wear_id, owner in owners_of(ids).items()}
        wearers = open_labels_of({person.account_id for person in people.values()})
        return cls(people, summaries_for(ids), bands_for(ids), wearers)


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
        known, counted = Known.of(waiting_ids()), []
        for family in Family:
            counted += _admit(slot, family, known, key)
        spend(counted)
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


def _admit(slot: int, family: Family, known: Known, slot_key: bytes) -> list[bytes]:
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
    return [entrant.marks for entrant in admitted]


def _open_places(entrants: Sequence[Entrant], family: Family, wearers: Mapping[UUID, UUID]) -> list[OpenPlace]:
    """Places in the family's blocks that go on, of the accounts that have a wear waiting."""
    pseudonyms = {entrant.person.wearer_id: entrant.person.wearer for entrant in entrants}
    places = Place.objects.filter(
        record__kind=RecordKind.BLOCK, record__family=family, record__payload__isnull=False
    ).select_related("record")
    return [
        OpenPlace(
            sealing.Place(
                person=pseudonyms[wearers[place.label]],
                scope=place.record.scope,
                place=place.record.place,
                sensor_model=place.record.sensor_model,
                end_bucket=place.record.end_bucket,
                q1=tuple(place.q1),
                q2=tuple(place.q2),
            ),
            place.n_wears,
        )
        for place in places.order_by("label")
        if wearers.get(place.label) in pseudonyms
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
    """Write the sums and the places, each table in the order of its random ids."""
    block_rows, bundle_rows, part_rows, overlap_rows, tie_rows = (
        [_row(record, k_of[record.scope]) for record in records]
        for records in (sealed.blocks, sealed.bundles, sealed.parts, sealed.overlaps, sealed.ties)
    )
    _create(SealedRecord, [*block_rows, *bundle_rows, *part_rows, *overlap_rows, *tie_rows])

    people = {entrant.person.wearer: entrant.person for inside in blocks for entrant in inside}
    n_wears = [Counter(entrant.person.wearer for entrant in inside) for inside in blocks]
    seated = [
        Place(record=block_rows[place.block], n_wears=n_wears[place.block][place.person], q1=place.q1, q2=place.q2)
        for place in sealed.places
    ]
    owners = [(place.label, own.person) for place, own in zip(seated, sealed.places, strict=True)]
    people_of = (*sealed.bundle_people, *sealed.part_people)
    for row, wearers in zip([*bundle_rows, *part_rows], people_of, strict=True):
        inside = [Place(record=row) for _ in wearers]
        owners += zip((place.label for place in inside), wearers, strict=True)
        seated += inside
    _create(Place, seated)
    _create(TieSeat, _tie_seats(tie_rows, sealed.tie_places, seated))
    link_labels([(label, people[wearer].account_id, people[wearer].wearer_id) for label, wearer in owners])


def _tie_seats(
    rows: Sequence[SealedRecord], tie_places: Sequence[Sequence[Sequence[int]]], places: Sequence[Place]
) -> list[TieSeat]:
    seats = []
    for row, linkers in zip(rows, tie_places, strict=True):
        for own in linkers:
            linker = uuid4()
            seats += [TieSeat(record=row, place=places[index], linker=linker) for index in own]
    return seats


def _create(model: type[Model], rows: Sequence[Model]) -> None:
    """Insert in the order of the random primary keys, so that no table keeps who was written beside whom."""
    model._default_manager.bulk_create(sorted(rows, key=lambda row: row.pk), batch_size=BATCH)


def _row(record: sealing.SealedRecord, k: int) -> SealedRecord:
    payload = record.to_payload()
    return SealedRecord(
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
