"""Ties between cells, parts of blocks, and the families of outcomes beside accuracy."""

import pytest
from django.db import transaction

from pooling.sealing.parts import PART_SUMS
from server.accounts.models import PlaceLabel
from server.core.outcomes import Family
from server.editions.models import RecordKind
from server.wears.models import Wear
from server.wears.transitions import State
from tests.server.editions.conftest import FLANK, THIGH
from tests.server.editions.test_admission import records, states, still_wait, sums

pytestmark = pytest.mark.django_db


def test_a_wear_without_a_pair_counts_for_the_time_on_the_skin(pool):
    wears = [*pool.wears(pool.members(4), THIGH), pool.wear(pool.members(1)[0], pairs=[])]
    pool.cut_off(1)
    assert states(wears) == {State.ADMITTED: 5}
    assert (still_wait(wears, Family.SURVIVAL), still_wait(wears)) == (0, 5)
    assert records(RecordKind.BLOCK, Family.SURVIVAL).get().payload["n_people"] == 5


def test_skin_waits_for_ten_people_and_counts_everybody_once(pool):
    members = pool.members(9)
    wears = [pool.wear(member, skin={"grade": 1}) for member in members for _ in range(2)]
    pool.cut_off(1)
    assert (still_wait(wears), still_wait(wears, Family.SKIN)) == (0, 18)
    wears.append(pool.wear(pool.members(1)[0], skin={"grade": 3}))
    pool.cut_off(2)
    skin = records(RecordKind.BLOCK, Family.SKIN).get()
    assert (skin.payload["n_people"], skin.payload["n_wears"], skin.k) == (10, 10, 10)
    assert still_wait(wears, Family.SKIN) == 9
    assert set(Wear.objects.filter(id__in=[w.pk for w in wears]).values_list("state", flat=True)) == {State.ADMITTED}


def test_the_key_decides_who_is_held_back_from_a_tie(pool):
    pool.wears(pool.members(14), THIGH, FLANK)
    found = set()
    for slot_key in (b"one", b"two", b"three", b"one"):
        savepoint = transaction.savepoint()
        pool.cut_off(1, slot_key=slot_key)
        assert records(RecordKind.TIE).get().payload["n_people"] == 9
        found.add(tuple(sums()))
        transaction.savepoint_rollback(savepoint)
    assert len(found) == 3


def test_a_tie_is_seated_on_the_places_of_its_linkers(pool):
    pool.wears(pool.members(8), THIGH, FLANK)
    pool.wears(pool.members(5), THIGH)
    pool.cut_off(1)
    tie = records(RecordKind.TIE).get()
    seats = list(tie.seats.select_related("place__record"))
    assert tie.payload["n_people"] == len({seat.linker for seat in seats}) == 8
    assert {seat.place.record.place for seat in seats} == {THIGH, FLANK}
    owners = {label.label: label.account_id for label in PlaceLabel.objects.all()}
    for linker in {seat.linker for seat in seats}:
        assert len({owners[seat.place_id] for seat in seats if seat.linker == linker}) == 1


def test_blocks_are_summed_by_phase_range_and_prompt_too(pool):
    pool.wears(pool.members(6), THIGH, FLANK)
    pool.cut_off(1)
    found = {record.place: record for record in records(RecordKind.PARTS)}
    assert set(found) <= {THIGH, FLANK, ""}
    assert found
    for record in found.values():
        assert record.payload["n_people"] == record.places.count() == 6
        assert all(len(sums) == len(PART_SUMS) for sums in record.payload["sums"].values())


def test_wears_by_lot_are_summed_apart_from_chosen_ones(pool):
    """A plan is believed where it is registered; here what uploading keeps of it stands in the header."""
    by_lot, chosen = pool.wears(pool.members(6), THIGH), pool.wears(pool.members(6), THIGH)
    for wear in by_lot:
        Wear.objects.filter(pk=wear.pk).update(header={**wear.header, "assignment": "randomised"})
    pool.cut_off(1)
    (record,) = [own for own in records(RecordKind.PARTS) if own.sensor_model]
    assert (record.place, record.payload["n_people"], record.places.count()) == (THIGH, 12, 12)
    assert set(record.payload["sums"]) == {"assignment.lot.direct", "assignment.chosen.direct"}
    assert states([*by_lot, *chosen]) == {State.ADMITTED: 12}


def test_four_by_lot_are_not_summed_apart(pool):
    wears = pool.wears(pool.members(4), THIGH)
    pool.wears(pool.members(7), THIGH)
    for wear in wears:
        Wear.objects.filter(pk=wear.pk).update(header={**wear.header, "assignment": "randomised"})
    pool.cut_off(1)
    assert not [own for own in records(RecordKind.PARTS) if own.sensor_model]
