"""Sums of parts put together."""

import numpy as np
import pytest

from pooling.hierarchy.pool import Counts
from pooling.parts.sums import PartSums, distinct_people, place_sums, steadied
from pooling.sealing import SEAL_VERSION_1, SealedRecords
from pooling.sealing.parts import SealedParts

VERSIONS = {SEAL_VERSION_1.number: SEAL_VERSION_1}
GRID = 2**40


def bundle(place, sums, n_people=10):
    units = {name: tuple(round(GRID * number) for number in numbers) for name, numbers in sums.items()}
    return SealedParts(4, 1, n_people, units, scope="everyone", place=place)


def two_parts(first, weight, *, noise=0.01, weight_noise=0.04):
    names = ("reference_low", "reference_mid")
    return {
        f"range.{name}.direct": (one, own, noise, weight_noise)
        for name, one, own in zip(names, first, weight, strict=True)
    }


def found(*bundles):
    return place_sums(SealedRecords.of(bundles), "range", "direct", VERSIONS)


def test_bundles_add_up_and_all_places_hold_those_of_no_place():
    sums = found(
        bundle("calf", two_parts((0.1, 0.2), (1, 5))),
        bundle("calf", two_parts((0.3, 0.0), (2, 4))),
        bundle("", two_parts((0.6, 0.1), (3, 3))),
    )
    assert set(sums) == {None, "calf"}
    everywhere = sums[None]
    assert everywhere.first == pytest.approx([1.0, 0.3])
    assert everywhere.weight == pytest.approx([6, 12])
    assert everywhere.mean == pytest.approx([0.1 + 1 / 6, 0.1 + 0.3 / 12])
    assert everywhere.whole == pytest.approx(0.1 + 1.3 / 18)
    assert everywhere.squared_weight == pytest.approx(3 * 6**2 / 10)
    assert (everywhere.n_accounts, sums["calf"].n_accounts) == (30, 20)


def test_noise_of_weights_adds_up_to_nothing():
    noise = found(bundle("", two_parts((0, 0), (1, 1), weight_noise=0.5)))[None].weight_noise
    assert noise.sum() == pytest.approx(0)
    assert noise[0, 0] == pytest.approx(0.25)


def test_a_bundle_that_was_not_split_so_is_left_out():
    assert place_sums(SealedRecords.of([bundle("calf", two_parts((0, 0), (1, 1)))]), "phase", "direct", VERSIONS) == {}


def test_a_weight_that_noise_hides_is_moved_to_the_share_of_all_places():
    hidden = found(
        bundle("calf", two_parts((0.0, 0.0), (-0.5, 6.5), weight_noise=25.0)),
        bundle("chest", two_parts((0.0, 0.0), (10, 90), weight_noise=1e-9), n_people=200),
    )
    share = hidden[None].share[0]
    assert hidden["calf"].weight[0] == pytest.approx(share * 6, rel=0.2)
    assert hidden["chest"].weight == pytest.approx([10, 90], rel=1e-6)
    assert hidden["calf"].weight_noise[0, 0] < 12.5


def test_steadied_weights_are_nearer_to_the_truth_on_average():
    """Shares of places drawn as assumed, noise added: the error falls to what is said of it."""
    rng = np.random.default_rng(2)
    names, n = ("a", "b"), 4000
    share = np.array([0.05, 0.95])
    whole = PartSums(names, 0.0, share, share, np.eye(2), np.zeros((2, 2)), 1.0, 1.0, share, 10)
    spread = (0.15 * 0.05 * 20) ** 2 + 0.05 * 0.05 * 0.95 * 9.0
    truth = 1.0 + rng.normal(0, spread**0.5, n)
    seen = truth + rng.normal(0, 0.6, n)
    own = [
        PartSums(names, 0.0, share, np.array([w, 20 - w]), np.eye(2), np.diag([0.36, 0.36]), 9.0, 20.0, share, 10)
        for w in seen
    ]
    moved = np.array([steadied(one, whole).weight[0] for one in own])
    said = steadied(own[0], whole).weight_noise[0, 0]
    assert ((moved - truth) ** 2).mean() == pytest.approx(said, rel=0.08)
    assert said < 0.36


def test_people_in_several_bundles_count_once_at_the_least():
    counts = Counts(
        (("calf", None), ("chest", None)), (10, 10), (10, 10), (10, 10), (99, 99), np.array([[0, 5], [5, 0]])
    )
    assert distinct_people(20, counts, [0, 1]) == 14
    assert distinct_people(10, counts, [0]) == 10
    assert distinct_people(0, counts, []) == 0
