from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from pooling.errors import InvalidInput, TooFewPeople
from pooling.sealing import CHANNELS, SEAL_VERSION_1, Cell, Member, seal_slot
from pooling.sealing.records import BLOCK_SUMS
from pooling.sealing.slot import _block_sums
from pooling.sealing.unit import units_of
from tests.calibration.pools import Stratum, Summary, simulate, ties_between

FREE = SEAL_VERSION_1.unrounded(number=99, grid_bits=60)
CELL, OTHER = Cell("everyone", "calf", "demo-a14"), Cell("everyone", "chest")


def wear(person, seed, n_pairs=20, account=None):
    readings = 0.1 * np.random.default_rng(seed).standard_normal(n_pairs)
    return Member(person, account or f"account of {person}", Summary({"all": Stratum.of(readings)}))


def people(names, seed=0):
    return [wear(name, seed + index) for index, name in enumerate(names)]


def seal(blocks, *, ties=(), version=SEAL_VERSION_1, open_places=(), end_bucket=4, k=5):
    return seal_slot(blocks, ties=ties, open_places=open_places, end_bucket=end_bucket, version=version, k=k)


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


def test_block_sums_are_those_of_its_people():
    members = [*people("abcdef"), wear("a", 40, n_pairs=60), wear("b", 41, n_pairs=9)]
    (block,) = seal([(CELL, members)], version=FREE).blocks
    assert (block.n_people, block.n_wearers, block.n_wears, block.n_pairs) == (6, 6, 8, 120 + 69)
    for channel in CHANNELS:
        units = [unit.channels[channel] for unit in units_of(members, FREE)]
        assert value(block, channel, "weight", FREE) == pytest.approx(sum(unit.q1 for unit in units), rel=1e-12)
        first = sum(unit.q1 * unit.value for unit in units)
        assert value(block, channel, "first", FREE) == pytest.approx(first, rel=1e-12, abs=1e-15)
        noise = sum(unit.q1**2 * unit.noise for unit in units)
        assert value(block, channel, "weight_sq_noise", FREE) == pytest.approx(noise, rel=1e-12)
        assert value(block, channel, "rounding", FREE) == 0


@pytest.mark.parametrize("channel", CHANNELS)
def test_means_lie_on_the_rounding_steps_and_squares_about_them_too(channel):
    (exact,) = seal([(CELL, people("abcdefg"))], version=FREE).blocks
    (block,) = seal([(CELL, people("abcdefg"))]).blocks
    constants, weight = SEAL_VERSION_1.channels[channel], value(block, channel, "weight")
    heaviest = max(unit.channels[channel].q1 for unit in units_of(people("abcdefg"), SEAL_VERSION_1))
    step, _ = constants.steps(weight / heaviest)
    steps = value(block, channel, "first") / weight / step
    assert steps == pytest.approx(round(steps), abs=1e-6)
    own = value(exact, channel, "first", FREE) / value(exact, channel, "weight", FREE)
    assert abs(steps * step - own) <= step / 2 + 1e-9
    about = value(block, channel, "second") - value(block, channel, "first") ** 2 / weight
    about /= constants.squares_step(heaviest)
    assert about == pytest.approx(round(about), abs=1e-4)
    assert value(block, channel, "rounding_sq") == pytest.approx(weight**2 * step**2 / 12, rel=1e-9)


def test_a_neighbour_who_knows_all_others_reads_only_steps():
    """Two blocks that differ in one person's readings, slightly: the same sealed values, so nothing was told."""
    known = people("abcdef")
    (one,) = seal([(CELL, [*known, wear("g", 100)])]).blocks
    stratum = wear("g", 100).summary.strata["all"]
    near = replace(stratum, m=stratum.m + 1e-4, s=stratum.s * 1.01, a1=stratum.a1 * 1.001, a2=stratum.a2 * 1.002)
    (two,) = seal([(CELL, [*known, Member("g", "account of g", Summary({"all": near}))])]).blocks
    assert one == two
    far = replace(stratum, m=stratum.m + 0.5)
    (three,) = seal([(CELL, [*known, Member("g", "account of g", Summary({"all": far}))])]).blocks
    assert three != one


@pytest.mark.parametrize("channel", CHANNELS)
@pytest.mark.parametrize("heavy", [20, 400], ids=["as many pairs as the others", "twenty times as many"])
def test_mean_and_squares_together_leave_the_last_value_open(channel, heavy):
    """Whoever knows all but one tries every value for the last: those that fit span more than one sd of people."""
    rng = np.random.default_rng(11)
    constants = SEAL_VERSION_1.channels[channel]
    sd, known, open_sds = constants.person_variance**0.5, people("abcdef"), []
    units = [unit.channels[channel] for unit in units_of([*known, wear("g", 100, n_pairs=heavy)], SEAL_VERSION_1)]
    values = np.linspace(-4 * sd, 4 * sd, 161)

    def told(others, last):
        rows = [replace(unit, value=float(x)) for unit, x in zip(units, [*others, last], strict=True)]
        return _block_sums(rows, channel, SEAL_VERSION_1)[2:4]

    for _ in range(20):
        *others, own = rng.normal(0, sd, 7)
        same = told(others, own)
        open_sds.append(sum(told(others, value) == same for value in values) * 8 / values.size)
    assert np.mean(open_sds) > 1


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


@pytest.mark.parametrize(("n_repeating", "kinds"), [(4, ["kurtosis"]), (5, ["within", "kurtosis"])])
def test_squares_within_people_are_sealed_only_where_k_accounts_contribute(n_repeating, kinds):
    again = [wear(name, 60 + index) for index, name in enumerate("abcdefgh"[:n_repeating])]
    found = seal([(CELL, people("abcd") + again[:4]), (OTHER, people("efgh") + again[4:])], k=4)
    assert [bundle.kind for bundle in found.bundles] == ["within", "kurtosis"]
    found = seal([(CELL, [*people("abcdefgh"), *again])])
    assert [bundle.kind for bundle in found.bundles] == kinds
    assert len(found.bundle_people) == len(found.bundles)
    if "within" in kinds:
        assert found.bundle_people[0] == tuple("abcde")
        assert found.bundles[0].n_people == 5


def test_scopes_have_bundles_of_their_own():
    found = seal([(Cell("g1", "calf"), people("abcde")), (OTHER, people("fghij"))])
    assert [(bundle.scope, bundle.kind) for bundle in found.bundles] == [("everyone", "kurtosis"), ("g1", "kurtosis")]


def test_squares_within_people_have_the_expectation_they_state():
    """3,000 wears in pairs: observed squares over wear factor times variance plus noise factor, within 5 %."""
    rng = np.random.default_rng(13)
    members = []
    for index in range(1500):
        for _ in range(2):
            readings = rng.normal(0, 0.03) + 0.09 * rng.standard_normal(int(rng.integers(8, 60)))
            members.append(Member(f"p{index}", f"a{index}", Summary({"all": Stratum.of(readings)})))
    bundle = seal([(CELL, members)]).bundles[0]
    squares, freedom, wear_factor, noise = (SEAL_VERSION_1.from_grid(unit) for unit in bundle.sums["location"])
    assert freedom == 1500
    assert squares / (wear_factor * 0.03**2 + noise) == pytest.approx(1, abs=0.05)


def test_every_pair_of_cells_of_a_busy_wearer_is_written_once():
    cells = [Cell("everyone", name) for name in ("a", "b", "c")]
    found = seal([(cell, [*people("vwxyz"), wear("me", 70)]) for cell in cells])
    assert [(pair.cell, pair.other) for pair in found.overlaps] == list(combinations(cells, 2))
