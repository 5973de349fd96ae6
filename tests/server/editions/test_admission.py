"""A cut-off: whole or not at all, once, sums of at least k people, and nothing that leads back to a wear."""

import json
from collections import Counter
from datetime import date

import pytest
from django.apps import apps
from django.db import transaction

from pooling.likeness import TIMED_BANDS, UNTIMED_BANDS
from server.accounts.models import Holding, PlaceLabel
from server.accounts.services import add_wearer
from server.core.errors import Conflict
from server.core.outcomes import Family
from server.editions import admission
from server.editions.admission import people_behind_places, run_cut_off
from server.editions.models import Place, RecordKind, SealedRecord, Slot
from server.groups.selectors import everyone
from server.groups.services import appoint_moderator, change_protocol
from server.wears.models import Awaited, Wear, WearPairs, WearSummary
from server.wears.services import erase_wear, take_back
from server.wears.transitions import State
from tests.server.editions.conftest import ARM, FIRST, FLANK, THIGH
from tests.server.editions.marks import spent_marks
from tests.server.records import A_CHILD

K = 5
N_BANDS = TIMED_BANDS + UNTIMED_BANDS


def sums():
    """All sealed sums, without the ids they are stored under."""
    return sorted(
        json.dumps(payload, sort_keys=True) for payload in SealedRecord.objects.values_list("payload", flat=True)
    )


def states(wears):
    return Counter(Wear.objects.filter(pk__in=[wear.pk for wear in wears]).values_list("state", flat=True))


def records(kind, family=Family.ACCURACY):
    return SealedRecord.objects.filter(kind=kind, family=family)


def blocks():
    return records(RecordKind.BLOCK)


def still_wait(wears, family=Family.ACCURACY):
    return Awaited.objects.filter(family=family, wear__in=wears).count()


def test_wears_of_enough_people_become_sums_and_are_admitted(pool):
    wears = pool.wears(pool.members(6), THIGH, FLANK)
    assert pool.cut_off(1) is True
    assert states(wears) == {State.ADMITTED: 12}
    assert {(block.place, block.sensor_model, block.scope) for block in blocks()} == {
        (THIGH, "demo-a14", pool.group.scope),
        (FLANK, "demo-a14", pool.group.scope),
    }
    assert [block.payload["n_people"] for block in blocks()] == [6, 6]
    assert [block.payload["n_pairs"] for block in blocks()] == [120, 120]
    assert set(Wear.objects.values_list("first_end_bucket", "end_bucket")) == {(24, 24)}
    assert len(spent_marks()) == 2 * 12 * N_BANDS  # for accuracy, and for the time on the skin
    assert Slot.objects.get().cut_off == FIRST


def test_a_second_run_changes_nothing(sealed):
    before = sums(), set(Place.objects.values_list("label", flat=True)), spent_marks()
    assert sealed.cut_off(1, slot_key=b"another") is False
    assert before == (
        sums(),
        set(Place.objects.values_list("label", flat=True)),
        spent_marks(),
    )


@pytest.mark.parametrize(
    "step", ["closing.end_records", "mark_waiting_slot", "_store", "link_labels", "mark_admitted", "show_states"]
)
def test_a_cut_off_that_dies_leaves_nothing_and_runs_again_whole(pool, monkeypatch, step):
    wears = pool.wears(pool.members(5), THIGH)

    def dies(*_args, **_kwargs):
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(f"server.editions.admission.{step}", dies)
        with pytest.raises(KeyboardInterrupt):
            pool.cut_off(1)
    assert not Slot.objects.exists()
    assert not SealedRecord.objects.exists()
    assert not Place.objects.exists()
    assert not PlaceLabel.objects.exists()
    assert not spent_marks()
    assert states(wears) == {State.APPROVED: 5}
    assert pool.cut_off(1) is True
    assert states(wears) == {State.ADMITTED: 5}


def test_fewer_than_k_people_wait(pool):
    members = pool.members(4)
    wears = pool.wears(members, THIGH)
    # A second body of one account does not make a fifth person.
    child = add_wearer(members[0].account, **A_CHILD)
    wears.append(pool.wear(members[0], wearer=child))
    pool.cut_off(1)
    assert states(wears) == {State.APPROVED: 5}
    assert not SealedRecord.objects.exists()


def test_a_group_that_asks_for_more_people_waits_for_more(pool):
    appoint_moderator(everyone(), account=pool.moderator.account)
    for group in (everyone(), pool.group):
        change_protocol(group, by=pool.moderator.account, k=8)
    wears = pool.wears(pool.members(7), THIGH)
    pool.cut_off(1)
    assert states(wears) == {State.APPROVED: 7}
    wears += pool.wears(pool.members(1), THIGH)
    pool.cut_off(2)
    assert states(wears) == {State.ADMITTED: 8}


def test_two_bodies_of_one_account_have_a_place_each_and_count_as_one_person(pool):
    members = pool.members(5)
    pool.wears(members, THIGH)
    child = add_wearer(members[0].account, **A_CHILD)
    pool.wear(members[0], wearer=child)
    pool.cut_off(1)
    assert blocks().get().payload["n_people"] == 5
    assert blocks().get().places.count() == 6
    assert len(set(people_behind_places().values())) == 5


def test_an_account_that_joined_after_the_last_cut_off_does_not_count_yet(pool):
    late = pool.members(1, joined=date(2031, 2, 10))
    wears = pool.wears([*pool.members(4), *late], THIGH)
    pool.cut_off(1)
    assert states(wears) == {State.APPROVED: 5}
    pool.cut_off(2)
    assert states(wears) == {State.ADMITTED: 5}


def test_a_wear_with_too_few_pairs_waits(pool):
    wears = pool.wears(pool.members(5), THIGH)
    short = pool.wear(pool.members(1)[0], n_pairs=7)
    pool.cut_off(1)
    assert (still_wait(wears), still_wait([short])) == (0, 1)


def test_two_editions_are_waited_before_the_sensor_model_is_given_up(pool):
    members = pool.members(6)
    pool.cut_off(1)
    wears = [
        pool.wear(member, sensor_model="demo-a14" if index % 2 else "demo-b10") for index, member in enumerate(members)
    ]
    for slot in (2, 3):
        pool.cut_off(slot)
        assert states(wears) == {State.APPROVED: 6}
    pool.cut_off(4)
    assert states(wears) == {State.ADMITTED: 6}
    assert (blocks().get().place, blocks().get().sensor_model) == (THIGH, None)


def test_the_same_readings_enter_once_whoever_brings_them(pool):
    members = pool.members(6)
    wears = [pool.wear(member, seed=1000 + index) for index, member in enumerate(members)]
    copy = pool.wear(pool.members(1)[0], seed=1000)
    pool.cut_off(1)
    assert states([wears[0], copy]) == {State.ADMITTED: 1, State.APPROVED: 1}
    assert blocks().get().payload["n_people"] == 6


def test_a_wear_that_was_counted_is_never_fresh_again(pool):
    members = pool.members(5)
    wears = [pool.wear(member, seed=2000 + index) for index, member in enumerate(members)]
    pool.cut_off(1)
    for member, wear in zip(members, wears, strict=True):
        erase_wear(wear.pk, account=member.account)
    # Neither their owners nor others can bring the same readings back in.
    again = [pool.wear(member, seed=2000 + index) for index, member in enumerate(members)]
    again += [pool.wear(member, seed=2000 + index) for index, member in enumerate(pool.members(5))]
    pool.cut_off(2)
    assert states(again) == {State.APPROVED: 10}
    assert blocks().count() == 1


def test_a_wear_that_nobody_holds_is_left_out(pool):
    wears = pool.wears(pool.members(6), THIGH)
    Holding.objects.filter(pk=wears[0].pk).delete()
    pool.cut_off(1)
    assert states(wears[1:]) == {State.ADMITTED: 5}
    assert states(wears[:1]) == {State.APPROVED: 1}


def test_at_most_three_open_wears_a_wearer_count_over_slots_too(pool):
    members = pool.members(5)
    first = [pool.wear(members[0]) for _ in range(2)] + pool.wears(members[1:], THIGH)
    pool.cut_off(1)
    assert states(first) == {State.ADMITTED: 6}
    own = Place.objects.filter(record__in=blocks()).order_by("-n_wears").first()
    assert own.n_wears == 2
    second = [pool.wear(members[0]) for _ in range(2)]
    others = pool.wears(members[1:], THIGH)
    pool.cut_off(2)
    assert states(second) == {State.ADMITTED: 1, State.APPROVED: 1}
    assert states(others) == {State.ADMITTED: 4}


def test_overlaps_tell_how_much_cells_of_two_slots_share_people(pool):
    members = pool.members(5)
    pool.wears(members, THIGH)
    pool.cut_off(1)
    assert not records(RecordKind.OVERLAP).exists()
    pool.wears(members, ARM)
    pool.cut_off(2)
    overlap = records(RecordKind.OVERLAP).get()
    assert {overlap.payload["place"], overlap.payload["other"]["place"]} == {THIGH, ARM}
    assert overlap.payload["n_people"] == 5


def test_an_account_that_has_closed_lends_its_places_to_nobody(pool):
    from server.accounts.services import close_account

    members = pool.members(6)
    pool.wears(members, THIGH)
    pool.cut_off(1)
    close_account(members[0].account)
    assert Place.objects.filter(record__in=blocks()).count() == 6
    pool.wears(members[1:], ARM)
    pool.cut_off(2)
    assert records(RecordKind.OVERLAP).get().payload["n_people"] == 5


def test_a_group_that_does_not_feed_everyone_keeps_to_itself(pool):
    wears = pool.wears(pool.members(3), THIGH) + pool.wears_in(pool.found("lone", feeds_everyone=False), 3, THIGH)
    pool.cut_off(1)
    assert states(wears) == {State.APPROVED: 6}


def test_groups_that_feed_everyone_reach_k_together(pool):
    wears = pool.wears(pool.members(3), THIGH) + pool.wears_in(pool.found("moor"), 3, THIGH)
    pool.cut_off(1)
    assert states(wears) == {State.ADMITTED: 6}
    assert blocks().get().scope == "everyone"


def test_nothing_in_the_tables_of_the_pool_names_a_wear_a_wearer_or_an_account(sealed):
    secrets = {
        str(value) for pair in Holding.objects.values_list("wear_id", "wearer_id", "account_id") for value in pair
    }
    assert len(secrets) == 12 + 6 + 6
    assert SealedRecord.objects.exists()
    rows = [str(row) for model in apps.get_app_config("editions").get_models() for row in model.objects.values_list()]
    written = "".join(rows)
    for secret in secrets:
        assert secret not in written
        assert secret.replace("-", "") not in written


def test_rows_are_written_in_the_order_of_their_random_ids(sealed, monkeypatch):
    written = []
    for model in (SealedRecord, Place):
        original = model.objects.bulk_create
        monkeypatch.setattr(
            model.objects,
            "bulk_create",
            lambda rows, original=original, **kwargs: (
                written.append([row.pk for row in rows]) or original(rows, **kwargs)
            ),
        )
    sealed.wears(sealed.crowd, ARM, "calf", "buttock")
    sealed.cut_off(2)
    assert sum(len(ids) > 5 for ids in written) >= 3
    assert all(ids == sorted(ids) for ids in written)


def test_sums_end_at_their_bucket_and_their_rows_stay_for_the_audit(sealed):
    n_records, n_places = SealedRecord.objects.count(), Place.objects.count()
    for slot in range(2, 24):
        sealed.cut_off(slot)
    assert not SealedRecord.objects.filter(payload__isnull=True).exists()
    sealed.cut_off(24)
    assert SealedRecord.objects.filter(payload__isnull=True).count() == n_records
    assert Place.objects.filter(n_wears=0, q1=[], q2=[]).count() == n_places


def test_places_of_ended_sums_no_longer_count_towards_the_cap(sealed):
    for slot in range(2, 24):
        sealed.cut_off(slot)
    wears = [sealed.wear(member) for member in sealed.crowd for _ in range(3)]
    sealed.cut_off(24)
    assert states(wears) == {State.ADMITTED: 18}


def test_cut_offs_are_sealed_in_order(pool):
    with pytest.raises(Conflict, match="the next one is 1"):
        pool.cut_off(2)
    assert not Slot.objects.exists()


def test_the_key_is_fresh_for_every_cut_off_and_derived_only_where_a_file_says_so(
    pool, settings, tmp_path, monkeypatch
):
    keys, plan = [], admission.ledger.plan
    monkeypatch.setattr(
        admission.ledger, "plan", lambda *a, slot_key, **k: keys.append(slot_key) or plan(*a, slot_key=slot_key, **k)
    )
    for slot in (1, 2):
        run_cut_off(slot)
    file = tmp_path / "slot-key"
    file.write_bytes(b"for an invented scenario")
    settings.SLOT_KEY_FILE = file
    for slot in (3, 4):
        run_cut_off(slot)
    Slot.objects.filter(number=4).delete()
    run_cut_off(4)
    assert len(set(keys)) == 4
    assert keys[3] == keys[4]
    assert {len(key) for key in keys} == {32}


def test_what_waits_changes_nothing_in_the_sums_whatever_it_says(pool):
    pool.wears(pool.members(6), THIGH, FLANK)
    savepoint = transaction.savepoint()
    pool.cut_off(1)
    without = sums()
    transaction.savepoint_rollback(savepoint)
    absurd = pool.wear(pool.members(1, joined=date(2031, 2, 10))[0], pairs=absurd_pairs())
    pool.cut_off(1)
    assert states([absurd]) == {State.APPROVED: 1}
    assert sums() == without


def absurd_pairs():
    """Readings that nobody has: every sensor reading at the end of the scale, far from its fingerstick."""
    from tests.server.records import pairs

    return [{**pair, "reference": 40 + index, "sensor": 400} for index, pair in enumerate(pairs(20))]


def test_taking_back_or_erasing_a_counted_wear_touches_no_sum(sealed):
    before = (
        list(SealedRecord.objects.order_by("id").values_list()),
        list(Place.objects.order_by("label").values_list()),
    )
    for member, leave in zip(sealed.crowd, (take_back, erase_wear) * 3, strict=True):
        for wear_id in Holding.objects.filter(account=member.account).values_list("wear_id", flat=True):
            leave(wear_id, account=member.account)
    assert not Wear.objects.exists()
    assert not WearPairs.objects.exists()
    assert not WearSummary.objects.exists()
    assert before == (
        list(SealedRecord.objects.order_by("id").values_list()),
        list(Place.objects.order_by("label").values_list()),
    )
