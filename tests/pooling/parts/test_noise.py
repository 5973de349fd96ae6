"""The noise that a figure from parts reckons with, against noise drawn again and again under other keys."""

from functools import cache

import numpy as np
import pytest

from pooling.crossing import PARTITIONS
from pooling.ledger import PlannedParts
from pooling.parts.sums import place_sums
from pooling.sealing import SEAL_VERSION_1, VERSIONS, Cell, SealedRecords, seal_slot
from tests.pooling.sealing.test_parts import member

CALF_A, CALF_B, CHEST, FLANK = (
    Cell("everyone", place, model)
    for place, model in (("calf", "demo-a14"), ("calf", "demo-b10"), ("chest", "demo-a14"), ("flank", "demo-a14"))
)
N_KEYS = 400


@cache
def world():
    """Two models at the calf, whose blocks have a bundle of that place; two places that only a common bundle splits."""
    cells = (CALF_A, CALF_B, CHEST, FLANK)
    blocks = [
        (cell, [member(f"{cell}{person}", 10 * at + person, 15 + 50 * person) for person in range(5)])
        for at, cell in enumerate(cells)
    ]
    return blocks, (PlannedParts((CALF_A, CALF_B), (1,)), PlannedParts((CHEST, FLANK), (1,)))


def sealed(key, end_bucket=4):
    blocks, parts = world()
    return seal_slot(
        blocks, parts=parts, open_places=(), end_bucket=end_bucket, version=SEAL_VERSION_1, key=key, k=5
    ).records


@pytest.fixture(scope="module")
def drawn():
    return [sealed(b"%d" % key) for key in range(N_KEYS)]


@pytest.mark.parametrize("place", ["calf", None])
@pytest.mark.parametrize("channel", ["direct", "rate15", "shown_low"])
def test_stated_noise_is_that_of_noise_drawn_again(drawn, channel, place):
    """Of single parts, of each less all, and of all together; four Monte Carlo errors of a variance from 400 keys."""
    sums = [place_sums(records, "range", channel, VERSIONS)[place] for records in drawn]
    # A place's weights are steadied, its values are not.
    off = np.array([own.first for own in sums])
    n = len(PARTITIONS["range"])
    looks = np.vstack([np.eye(n), np.eye(n) - 1 / n, np.ones(n)])
    ratio = (off @ looks.T).var(axis=0) / np.einsum("ij,jk,ik->i", looks, sums[0].value_noise, looks)
    within = 4 * (2 / N_KEYS) ** 0.5
    assert ((ratio > 1 - within) & (ratio < 1 + within)).all(), ratio


def test_blocks_of_one_end_that_were_not_all_split_leave_parts_independent(drawn):
    """The sums then say nothing of which blocks' noise the parts add up to."""
    blocks, _ = world()
    whole = seal_slot(blocks, open_places=(), end_bucket=4, version=SEAL_VERSION_1, key=b"other", k=5).records
    both = (drawn[0] + SealedRecords(blocks=whole.blocks)).merged()
    noise = place_sums(both, "range", "direct", VERSIONS)["calf"].value_noise
    assert np.count_nonzero(noise - np.diag(np.diag(noise))) == 0
