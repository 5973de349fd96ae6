"""Wears by lot and chosen ones: they add up to their block, noise and all, and each side is of k people."""

from dataclasses import replace

import numpy as np
import pytest

from pooling.errors import TooFewPeople
from pooling.sealing import SealedRecords, record_from_payload
from pooling.sealing.lots import ALIKE, CHOSEN, LOT
from pooling.sealing.parts import PART_SUMS
from pooling.sealing.records import BLOCK_SUMS
from tests.pooling.sealing.test_parts import CALF, FREE, SEAL_VERSION_1, member, seal_slot


def crowd(n_lot=6, n_chosen=7):
    """p0 has a wear on either side."""
    by_lot = [replace(member(f"p{i}", i), by_lot=True) for i in range(n_lot)]
    return [*by_lot, *(member(f"q{i}", 50 + i, 25) for i in range(n_chosen)), member("p0", 90)]


def seal(members, version=SEAL_VERSION_1, key=b"slot"):
    return seal_slot([(CALF, members)], lots=[CALF], open_places=(), end_bucket=4, version=version, key=key, k=5)


def numbers(record, side, version):
    units = record.sums[f"{side}.direct"]
    return {name: version.from_grid(unit) for name, unit in zip(PART_SUMS, units, strict=True)}


@pytest.mark.parametrize("version", [FREE, SEAL_VERSION_1], ids=["bare", "masked"])
def test_both_sides_add_up_to_the_block(version):
    sealed = seal(crowd(), version)
    (record,), (block,) = sealed.parts, sealed.blocks
    assert (record.place, record.model, record.n_people) == ("calf", "demo-a14", 13)
    sides = [numbers(record, side, version) for side in (LOT, CHOSEN)]
    for name in ("first", "weight"):
        whole = version.from_grid(block.sums["direct"][BLOCK_SUMS.index(name)])
        assert sum(side[name] for side in sides) == pytest.approx(whole, abs=1e-10)


def test_a_side_is_the_weighted_mean_of_its_wears():
    members = [replace(one, by_lot=one.person.startswith("p")) for one in crowd()[:-1]]
    (record,) = seal(members, FREE).parts
    mard = [one.summary.strata["all"].a1 / one.summary.strata["all"].n_pairs for one in members if one.by_lot]
    own = numbers(record, LOT, FREE)
    # Six wears of much the same length weigh much the same.
    assert own["first"] / own["weight"] + FREE.channels["direct"].reference == pytest.approx(np.mean(mard), rel=0.01)


def test_noise_has_the_variance_that_is_said():
    """400 keys: of either side, and of their sum, which for values is the block's and for weights nothing."""
    bare = seal(crowd(), SEAL_VERSION_1.unmasked(number=1, grid_bits=SEAL_VERSION_1.grid_bits)).parts[0]
    found = [seal(crowd(), key=str(key).encode()).parts[0] for key in range(400)]
    for name, variance, alike in (("first", "mask", ALIKE), ("weight", "weight_mask", -1.0)):
        off = np.array(
            [
                [
                    numbers(record, side, SEAL_VERSION_1)[name] - numbers(bare, side, SEAL_VERSION_1)[name]
                    for record in found
                ]
                for side in (LOT, CHOSEN)
            ]
        )
        said = [numbers(found[0], side, SEAL_VERSION_1)[variance] for side in (LOT, CHOSEN)]
        assert off.var(axis=1) == pytest.approx(said, rel=0.25)
        assert np.corrcoef(off)[0, 1] == pytest.approx(alike, abs=0.1)


@pytest.mark.parametrize(("n_lot", "n_chosen"), [(4, 9), (9, 3)])
def test_fewer_than_k_on_a_side_are_refused(n_lot, n_chosen):
    """Of nine by lot and three others one wears on both sides: four people are too few."""
    with pytest.raises(TooFewPeople):
        seal(crowd(n_lot, n_chosen))


def test_nothing_depends_on_the_order_and_records_come_back_and_add_up():
    sealed = seal(crowd())
    (record,) = sealed.parts
    assert seal(crowd()[::-1]).parts[0] == record
    assert record_from_payload(record.to_payload()) == record
    twice = (SealedRecords(parts=(record,)) + SealedRecords(parts=(record,))).merged().parts
    assert [one.n_people for one in twice] == [26]


def test_without_lots_nothing_is_sealed_by_lot():
    assert (
        seal_slot([(CALF, crowd())], open_places=(), end_bucket=4, version=SEAL_VERSION_1, key=b"slot", k=5).parts == ()
    )
