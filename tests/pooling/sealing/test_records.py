import json

import numpy as np
import pytest

from pooling.errors import InvalidInput
from pooling.sealing import (
    SEAL_VERSION_1,
    Cell,
    SealedRecords,
    record_from_payload,
    seal_slot,
)
from tests.calibration.pools import simulate, ties_between


@pytest.fixture(scope="module")
def records():
    """Two slots of one pool: blocks, overlaps, bundles and ties of every kind."""
    rng = np.random.default_rng(8)
    pool = simulate(rng, n_people=60, n_cells=3)
    blocks = pool.blocks()
    ties = ties_between(blocks[::2])
    first = seal_slot(blocks[::2], ties=ties, open_places=(), end_bucket=4, version=SEAL_VERSION_1, key=b"slot", k=5)
    second = seal_slot(blocks[1:], open_places=first.places, end_bucket=5, version=SEAL_VERSION_1, key=b"slot", k=5)
    assert first.ties
    return first.records + second.records


def canonical(records):
    return json.dumps(records.merged().to_payload(), sort_keys=True).encode()


def test_payload_is_plain_json_and_comes_back_the_same(records):
    text = json.dumps(records.to_payload())
    assert SealedRecords.from_payload(json.loads(text)) == records
    assert {entry["kind"] for entry in records.to_payload()} == {
        "block", "overlap", "between", "within", "kurtosis", "tie",
    }  # fmt: skip


def test_payload_holds_integers_strings_and_nothing_else(records):
    def leaves(value):
        if isinstance(value, dict):
            return [leaf for inner in value.values() for leaf in leaves(inner)]
        return [leaf for inner in value for leaf in leaves(inner)] if isinstance(value, list) else [value]

    for leaf in leaves(records.to_payload()):
        assert leaf is None or type(leaf) in (int, str)


def test_sums_add_up_to_the_same_bytes_in_any_order(records):
    expected = canonical(records)
    rng = np.random.default_rng(0)
    loose = [record_from_payload(entry) for entry in records.to_payload()]
    for _ in range(5):
        shuffled = [loose[i] for i in rng.permutation(len(loose))]
        assert canonical(SealedRecords.of(shuffled)) == expected


def test_two_servers_add_up(records):
    loose = [record_from_payload(entry) for entry in records.to_payload()]
    here, there = SealedRecords.of(loose[::2]), SealedRecords.of(loose[1::2])
    assert canonical(here.merged() + there.merged()) == canonical(records)
    assert canonical(there + here) == canonical(records)


def test_merging_really_merges(records):
    merged = (records + records).merged()
    assert len(merged.blocks) == len(records.blocks)
    assert sum(block.n_pairs for block in merged.blocks) == 2 * sum(block.n_pairs for block in records.blocks)


def test_records_of_other_ends_do_not_add_up(records):
    early, late = records.blocks[0], records.blocks[-1]
    assert early.end_bucket != late.end_bucket
    with pytest.raises(InvalidInput, match="add up"):
        early + late


def test_scopes_are_kept_apart_and_an_overlap_needs_both(records):
    rng = np.random.default_rng(2)
    pool = simulate(rng, n_people=50, n_cells=2)
    blocks = [
        (Cell("g1" if index else "everyone", cell.place), found) for index, (cell, found) in enumerate(pool.blocks())
    ]
    mixed = seal_slot(blocks, open_places=(), end_bucket=4, version=SEAL_VERSION_1, key=b"slot", k=5).records
    across = [pair for pair in mixed.overlaps if pair.cell.scope != pair.other.scope]
    assert across
    assert all(pair.other.scope == "g1" == pair.cell.scope for pair in mixed.within(["g1"]).overlaps)
    assert mixed.within(["g1", "everyone"]) == mixed
    assert {record.scope for record in mixed.within(["g1"]).bundles} == {"g1"}


def test_unknown_kinds_are_refused():
    with pytest.raises(InvalidInput, match="no kind of sealed record"):
        record_from_payload({"kind": "person"})
