from itertools import combinations

import numpy as np
import pytest

from pooling.errors import InvalidInput, TooFewPeople
from pooling.sealing import CHANNELS, FAMILIES, SEAL_VERSION_1, Cell, Member, seal_slot
from pooling.sealing.records import BLOCK_SUMS
from pooling.sealing.unit import units_of
from tests.calibration.pools import Stratum, Summary, simulate, ties_between

FREE = SEAL_VERSION_1.unmasked(number=99, grid_bits=60)
CELL, OTHER = Cell("everyone", "calf", "demo-a14"), Cell("everyone", "chest")


def wear(person, seed, n_pairs=20, account=None):
    readings = 0.1 * np.random.default_rng(seed).standard_normal(n_pairs)
    return Member(person, account or f"account of {person}", Summary({"all": Stratum.of(readings)}))


def people(names, seed=0):
    return [wear(name, seed + index) for index, name in enumerate(names)]


def seal(blocks, *, ties=(), version=SEAL_VERSION_1, open_places=(), end_bucket=4, k=5, key=b"slot"):
    return seal_slot(blocks, ties=ties, open_places=open_places, end_bucket=end_bucket, version=version, key=key, k=k)


def value(record, channel, name, version=SEAL_VERSION_1):
    return version.from_grid(record.sums[channel][BLOCK_SUMS.index(name)])


def test_a_block_needs_k_accounts_not_k_wearers():
    with pytest.raises(TooFewPeople, match="needs 5 accounts and has 4"):
        seal([(CELL, people("abcd"))])
    family = [wear(name, index, account="one household") for index, name in enumerate("abcde")]
    with pytest.raises(TooFewPeople, match="has 1"):
        seal([(CELL, family)])
    assert seal([(CELL, people("abcd"))], k=4).blocks[0].n_people == 4


def test_k_may_depend_on_the_scope():
    with pytest.raises(TooFewPeople):
        seal([(CELL, people("abcde"))], k=lambda scope: {"everyone": 6}[scope])


def test_short_wears_are_refused_not_dropped():
    with pytest.raises(InvalidInput, match="needs 8 pairs"):
        seal([(CELL, [*people("abcde"), wear("f", 9, n_pairs=7)])])


@pytest.mark.parametrize("family", FAMILIES)
def test_a_slot_without_blocks_seals_nothing(family):
    found = seal_slot([], open_places=(), end_bucket=4, version=SEAL_VERSION_1, key=b"slot", k=5, family=family)
    assert (found.records.records, found.places) == ((), ())


def test_block_sums_are_those_of_its_people():
    members = [*people("abcdef"), wear("a", 40, n_pairs=60), wear("b", 41, n_pairs=9)]
    (block,) = seal([(CELL, members)], version=FREE).blocks
    assert (block.n_people, block.n_wearers, block.n_wears, block.n_pairs) == (6, 6, 8, 120 + 69)
    values = units_of([members], FREE).values
    for row, channel in enumerate(CHANNELS):
        q1 = values.q1[row]
        assert value(block, channel, "weight", FREE) == pytest.approx(q1.sum(), rel=1e-12)
        assert value(block, channel, "first", FREE) == pytest.approx(q1 @ values.value[row], rel=1e-12, abs=1e-15)
        noise = q1**2 @ values.assumed[row]
        assert value(block, channel, "weight_sq_noise", FREE) == pytest.approx(noise, rel=1e-12)
        assert value(block, channel, "mask", FREE) == 0


@pytest.mark.parametrize("channel", CHANNELS)
def test_a_sum_has_the_noise_that_it_states_and_nothing_else_has_any(channel):
    (exact,) = seal([(CELL, people("abcdefg"))], version=FREE).blocks
    drawn = [seal([(CELL, people("abcdefg"))], key=bytes([i])).blocks[0] for i in range(60)]
    off = [value(block, channel, "first") - value(exact, channel, "first", FREE) for block in drawn]
    assert np.mean(np.square(off)) / value(drawn[0], channel, "mask") == pytest.approx(1, abs=0.6)
    for name in BLOCK_SUMS:
        if name != "first":
            assert len({value(block, channel, name) for block in drawn}) == 1


def test_whoever_knows_all_others_cannot_tell_two_last_ones_apart():
    """The noise is wider than what two people one sd apart would add: the same number may be of either."""
    (block,) = seal([(CELL, people("abcdefg"))]).blocks
    for channel in CHANNELS:
        q1 = units_of([people("abcdefg")], SEAL_VERSION_1).values.q1[CHANNELS.index(channel)]
        apart = q1.max() * SEAL_VERSION_1.channels[channel].person_variance ** 0.5
        assert value(block, channel, "mask") ** 0.5 > 2 * apart


def test_the_same_key_masks_alike_whatever_else_is_sealed():
    """What is sealed of a cell does not depend on which other cells there are."""
    alone, beside = (
        seal(blocks).blocks[0]
        for blocks in ([(CELL, people("abcdefg"))], [(CELL, people("abcdefg")), (OTHER, people("hijkl", seed=70))])
    )
    assert alone == beside
    assert seal([(CELL, people("abcdefg"))], key=b"another").blocks[0] != alone


def test_any_order_of_members_gives_the_same_records():
    rng = np.random.default_rng(4)
    pool = simulate(rng, n_people=40, n_cells=3)
    blocks = pool.blocks()
    before = seal(blocks[:2])
    after = [seal(blocks[1:], open_places=before.places, end_bucket=5)]
    for _ in range(3):
        shuffled = [(cell, [members[i] for i in rng.permutation(len(members))]) for cell, members in blocks[1:]]
        places = [before.places[i] for i in rng.permutation(len(before.places))]
        after.append(seal(shuffled, open_places=places, end_bucket=5))
    assert all(found == after[0] for found in after[1:])


def test_places_say_who_is_in_which_block():
    found = seal([(CELL, people("abcde")), (OTHER, people("cdefg", seed=50))])
    assert [place.person for place in found.places if place.block == 0] == list("abcde")
    assert [place.person for place in found.places if place.block == 1] == list("cdefg")
    assert {place.sensor_model for place in found.places if place.block == 1} == {None}
    assert found.places[0].cell == CELL


def test_overlaps_count_pairs_of_units_of_one_wearer():
    found = seal([(CELL, people("abcde")), (OTHER, people("cdefg", seed=50))])
    (overlap,) = found.overlaps
    assert (overlap.cell, overlap.other, overlap.n_people) == (CELL, OTHER, 3)
    by_person = {(place.person, place.block): place.q1 for place in found.places}
    for index, channel in enumerate(CHANNELS):
        expected = sum(by_person[name, 0][index] * by_person[name, 1][index] for name in "cde")
        assert SEAL_VERSION_1.from_grid(overlap.sums[channel][0]) == pytest.approx(expected, rel=1e-9)


def test_overlaps_with_open_places_end_at_the_earlier_end():
    first = seal([(CELL, people("abcde"))], end_bucket=4)
    second = seal(
        [(CELL, people("abcxy", seed=9)), (OTHER, people("axyzw", seed=30))], open_places=first.places, end_bucket=6
    )
    found = {(pair.cell, pair.other, pair.end_bucket): pair.n_people for pair in second.overlaps}
    assert found == {(CELL, CELL, 4): 3, (CELL, OTHER, 4): 1, (CELL, OTHER, 6): 3}


def test_a_cell_has_one_block_a_slot():
    with pytest.raises(InvalidInput, match="one block"):
        seal([(CELL, people("abcde")), (CELL, people("efghi", seed=20))])


def test_ties_say_whose_places_they_hold():
    blocks = [(CELL, people("abcdefghij")), (OTHER, people("fghijklmno", seed=50))]
    found = seal(blocks, ties=ties_between(blocks))
    (tie,), (linkers,) = found.ties, found.tie_places
    assert (tie.n_people, tie.cells) == (5, (CELL, OTHER))
    assert sorted({found.places[index].person for index in own} for own in linkers) == [{name} for name in "fghij"]
    assert all([found.places[index].cell for index in own] == [CELL, OTHER] for own in linkers)


def test_open_places_of_strangers_are_ignored():
    first = seal([(CELL, people("vwxyz"))])
    assert seal([(CELL, people("abcde"))], open_places=first.places).overlaps == ()


def test_every_pair_of_cells_of_a_busy_wearer_is_written_once():
    cells = [Cell("everyone", name) for name in ("a", "b", "c")]
    found = seal([(cell, [*people("vwxyz"), wear("me", 70)]) for cell in cells])
    assert [(pair.cell, pair.other) for pair in found.overlaps] == list(combinations(cells, 2))
