"""Parts of blocks: they add up to the blocks, masking noise and all, and they come back."""

import numpy as np
import pytest
from msgspec.structs import replace

from pooling.crossing import CROSSED, PARTITIONS, Crossed
from pooling.errors import InvalidInput, TooFewPeople
from pooling.ledger import PlannedParts
from pooling.sealing import SEAL_VERSION_1, Cell, Member, SealedRecords, record_from_payload, seal_slot
from pooling.sealing.parts import PART_SUMS
from pooling.sealing.records import BLOCK_SUMS
from pooling.summary import SummaryRules, summarise
from tests.pooling.test_summary import _columns, _random_rows

FREE = SEAL_VERSION_1.unmasked(number=99, grid_bits=60)
CALF, CHEST = Cell("everyone", "calf", "demo-a14"), Cell("everyone", "chest", "demo-a14")
ALL = tuple(range(len(PARTITIONS)))


def member(person, seed, n=60):
    summary = summarise(
        _columns(_random_rows(np.random.default_rng(seed), n)),
        worn_min=20_000,
        rules=SummaryRules(version=1),
        end_reason="completed",
        skin_grade=None,
        ratings=None,
    )
    return Member(person, f"account of {person}", summary)


def blocks_of(n=6, seed=0):
    """Two blocks; one person has two wears, another is in both."""
    calf = [member(f"p{i}", seed + i) for i in range(n)] + [member("p0", seed + 50, 25)]
    chest = [member(f"q{i}", seed + 100 + i) for i in range(n)] + [member("p1", seed + 200)]
    return [(CALF, calf), (CHEST, chest)]


def seal(blocks, *parts, version=SEAL_VERSION_1, key=b"slot", k=5):
    return seal_slot(blocks, parts=parts, open_places=(), end_bucket=4, version=version, key=key, k=k)


def part_sums(record, name, channel, version=FREE):
    return {
        sum_name: version.from_grid(unit)
        for sum_name, unit in zip(PART_SUMS, record.sums[f"{name}.{channel}"], strict=True)
    }


@pytest.mark.parametrize("version", [FREE, SEAL_VERSION_1], ids=["bare", "masked"])
@pytest.mark.parametrize("channel", ["location", "direct", "rate15", "rate20"])
@pytest.mark.parametrize("partition", PARTITIONS)
def test_the_parts_of_a_partition_add_up_to_the_blocks(partition, channel, version):
    """Weights are those of the block, what the proof of the plan rests on; noise too, so the whole tells no more."""
    sealed = seal(blocks_of(), PlannedParts((CALF, CHEST), ALL), version=version)
    (record,) = sealed.parts
    parts = [part_sums(record, f"{partition}.{part}", channel, version) for part in PARTITIONS[partition]]
    for part_name, block_name in (("first", "first"), ("weight", "weight")):
        whole = sum(version.from_grid(block.sums[channel][BLOCK_SUMS.index(block_name)]) for block in sealed.blocks)
        assert sum(own[part_name] for own in parts) == pytest.approx(whole, rel=1e-9, abs=1e-10)


def test_a_part_is_the_ratio_of_sums_over_its_pairs():
    """With equal wears, the mean over the pairs in the part."""
    blocks = [(CALF, [member(f"p{i}", i) for i in range(6)])]
    (record,) = seal(blocks, PlannedParts((CALF,), (0,)), version=FREE).parts
    inside = [
        own for wear in blocks[0][1] for index, own in wear.summary.crossed.items() if "days2_7" in CROSSED[index]
    ]
    plain = sum(inside, Crossed())
    own = part_sums(record, "phase.days2_7", "direct")
    assert own["first"] / own["weight"] + FREE.channels["direct"].reference == pytest.approx(
        plain.d / plain.n_pairs, rel=0.05
    )
    shown = part_sums(record, "phase.days2_7", "shown_low")
    assert shown["first"] / shown["weight"] == pytest.approx(plain.shown_low / plain.n_shown, rel=0.1)


def test_only_the_planned_partitions_are_summed():
    (record,) = seal(blocks_of(), PlannedParts((CALF,), (0, 2))).parts
    assert {name.split(".")[0] for name in record.sums} == {"phase", "prompt"}
    assert (record.scope, record.place, record.n_people) == ("everyone", "calf", 6)


def test_blocks_of_two_places_make_a_record_of_no_place():
    sealed = seal(blocks_of(), PlannedParts((CALF, CHEST), ALL))
    assert (sealed.parts[0].place, sealed.parts[0].n_people) == ("", 12)
    assert sealed.part_people == (tuple(sorted([*(f"p{i}" for i in range(6)), *(f"q{i}" for i in range(6))])),)


@pytest.mark.parametrize("channel", ["location", "direct", "rate15", "shown_low"])
def test_noise_is_for_the_one_with_the_most_pairs_in_the_part(channel):
    """Another key, another sum: on average as far from the bare one as the record says, less what adding up takes."""
    blocks = [(CALF, [member("p0", 0, 300), *(member(f"p{i}", i, 15) for i in range(1, 6))])]
    planned, parts = PlannedParts((CALF,), (1,)), [f"range.{part}" for part in PARTITIONS["range"]]

    def firsts(version, key):
        (record,) = seal(blocks, planned, version=version, key=key).parts
        return np.array([[part_sums(record, part, channel, version)[name] for part in parts] for name in PART_SUMS])

    bare = firsts(FREE, b"")
    drawn = np.array([firsts(SEAL_VERSION_1, bytes([i])) for i in range(80)])
    off = drawn[:, 0] - bare[0]
    assert (off != 0).all()
    assert (drawn[:, 1] != bare[1]).all()
    ratio = (off**2).mean(axis=0) / drawn[0, 2]
    assert ((ratio > 0.3) & (ratio < 1.6)).all()
    assert bare[2].max() == 0


def marked(name, crossings):
    """A wear with pairs in all phases and ranges, and one more that holds a mark and no number."""
    plain = member(name, 7)
    crossed = {
        index: Crossed(n_pairs=2, y=0.1, d=0.2, k15=2, k20=2, n_shown=2)
        for index, crossing in enumerate(CROSSED)
        if crossing[2] == "scheduled"
    }
    strata = {"all": replace(plain.summary.strata["all"], n_pairs=2 * len(crossed))}
    crossed |= {CROSSED.index(crossing): Crossed(n_shown=1, shown_low=1) for crossing in crossings}
    return Member(name, f"account of {name}", replace(plain.summary, crossed=crossed, strata=strata))


def test_marks_in_a_part_without_numbers_are_not_summed_around():
    """All the marked pairs by phase, less those by the prompts that have numbers, would be one person's."""
    alone = ("day1", "reference_low", "doubt")
    calf = [*(marked(f"p{i}", []) for i in range(5)), marked("p5", [alone])]
    (record,) = seal([(CALF, calf)], PlannedParts((CALF,), (0, 2))).parts
    names = {name.removesuffix(".shown_low") for name in record.sums if name.endswith("shown_low")}
    assert names == {"phase.day1", "phase.days2_7", "phase.day8_on"}
    assert "prompt.scheduled.rate15" in record.sums


def test_records_come_back_and_add_up():
    first, second = (
        seal(blocks_of(seed=seed), PlannedParts((CALF,), ALL), PlannedParts((CHEST,), (0,))).records
        for seed in (0, 300)
    )
    assert SealedRecords.from_payload(first.to_payload()) == first
    both = (first + second).merged()
    assert len(both.parts) == 2
    assert sum(record.n_people for record in both.parts) == sum(
        record.n_people for records in (first, second) for record in records.parts
    )
    assert record_from_payload(first.parts[0].to_payload()) == first.parts[0]
    assert first.within(["g1"]).parts == ()


def test_any_order_of_members_gives_the_same_bytes():
    blocks = blocks_of()
    shuffled = [(cell, members[::-1]) for cell, members in blocks[::-1]]
    planned = PlannedParts((CALF, CHEST), ALL)
    assert seal(blocks, planned).parts == seal(shuffled, planned).parts


def test_too_few_people_and_wears_without_a_crossed_table_are_refused():
    with pytest.raises(TooFewPeople):
        seal([(CALF, blocks_of()[0][1])], PlannedParts((CALF,), ALL), k=7)
    from tests.calibration.pools import Stratum, Summary

    bare = [Member(f"p{i}", f"a{i}", Summary({"all": Stratum.of(np.linspace(-0.1, 0.1, 9))})) for i in range(5)]
    with pytest.raises(InvalidInput, match="crossed"):
        seal([(CALF, bare)], PlannedParts((CALF,), ALL))
