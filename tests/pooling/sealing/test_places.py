"""Places, and how much blocks share wearers, against counting pair by pair."""

from itertools import combinations

import numpy as np

from pooling.sealing import CHANNELS, SEAL_VERSION_1, Cell
from tests.pooling.sealing.test_slot import people, seal

CELLS = tuple(Cell("everyone", name) for name in ("calf", "chest", "thigh.front"))


def two_slots(seed):
    rng = np.random.default_rng(seed)
    names = "abcdefghijkl"
    chosen = [sorted(rng.choice(list(names), 7, replace=False)) for _ in range(5)]
    before = seal([(cell, people(own)) for cell, own in zip(CELLS[:2], chosen, strict=False)], end_bucket=4)
    after = seal(
        [(cell, people(own, seed=50)) for cell, own in zip(CELLS, chosen[2:], strict=True)],
        open_places=before.places,
        end_bucket=6,
    )
    return before, after


def counted(new, still):
    pairs = [*combinations(new, 2), *((one, other) for one in new for other in still)]
    found = {}
    for one, other in pairs:
        if one.person == other.person:
            key = (*sorted((one.cell, other.cell)), min(one.end_bucket, other.end_bucket))
            products = [SEAL_VERSION_1.to_grid(a * b) for a, b in zip(one.q1, other.q1, strict=True)]
            n, sums = found.get(key, (0, [0] * len(CHANNELS)))
            found[key] = n + 1, [a + b for a, b in zip(sums, products, strict=True)]
    return found


def test_overlaps_are_those_counted_pair_by_pair():
    for seed in range(5):
        before, after = two_slots(seed)
        expected = counted(after.places, before.places)
        assert [(one.cell, one.other, one.end_bucket) for one in after.overlaps] == sorted(expected)
        for one in after.overlaps:
            n, sums = expected[one.cell, one.other, one.end_bucket]
            assert (one.n_people, [one.sums[channel][0] for channel in CHANNELS]) == (n, sums)


def test_places_of_others_are_not_looked_at():
    strangers = seal([(CELLS[0], people("uvwxyz"))]).places
    alone = seal([(CELLS[1], people("abcde"))], open_places=strangers)
    assert alone.overlaps == ()
    assert [place.person for place in alone.places] == list("abcde")
