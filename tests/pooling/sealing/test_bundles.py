"""Squares between and within wearers, and the shape of readings: sums over a scope and slot."""

import numpy as np
import pytest

from pooling.sealing import CHANNELS, SEAL_VERSION_1, Cell, Member
from pooling.sealing.records import BETWEEN_SUMS
from pooling.sealing.unit import units_of
from tests.calibration.pools import Stratum, Summary
from tests.pooling.sealing.test_slot import CELL, FREE, OTHER, people, seal, wear


def between(sealed, channel, version):
    (bundle,) = [bundle for bundle in sealed.bundles if bundle.kind == "between"]
    return {name: version.from_grid(unit) for name, unit in zip(BETWEEN_SUMS, bundle.sums[channel], strict=True)}


@pytest.mark.parametrize("channel", CHANNELS)
def test_squares_are_those_about_the_mean_of_each_block(channel):
    blocks = [(CELL, people("abcdef")), (OTHER, people("cdefg", seed=50))]
    own = between(seal(blocks, version=FREE), channel, FREE)
    squares = person = seen = 0.0
    for _, members in blocks:
        values, row = units_of([members], FREE).values, CHANNELS.index(channel)
        q, x = values.q1[row], values.value[row]
        squares += q @ (x - q @ x / q.sum()) ** 2
        person += q.sum() - (q**2).sum() / q.sum()
        seen += q @ values.noise[row]
    assert (own["squares"], own["person"], own["seen"]) == pytest.approx((squares, person, seen), rel=1e-9)
    assert (own["freedom"], own["mask"]) == (9, 0)


@pytest.mark.parametrize("channel", CHANNELS)
def test_squares_have_the_noise_that_they_state(channel):
    blocks = [(CELL, people("abcdef")), (OTHER, people("cdefg", seed=50))]
    bare = between(seal(blocks, version=FREE), channel, FREE)
    drawn = [between(seal(blocks, key=bytes([i])), channel, SEAL_VERSION_1) for i in range(60)]
    off = np.array([own["squares"] - bare["squares"] for own in drawn])
    assert (off**2).mean() / drawn[0]["mask"] == pytest.approx(1, abs=0.6)
    assert len({own["seen"] for own in drawn}) == (60 if channel in ("location", "direct") else 1)


@pytest.mark.parametrize(
    ("n_repeating", "kinds"), [(4, ["between", "kurtosis"]), (5, ["between", "within", "kurtosis"])]
)
def test_squares_within_people_are_sealed_only_where_k_accounts_contribute(n_repeating, kinds):
    again = [wear(name, 60 + index) for index, name in enumerate("abcdefgh"[:n_repeating])]
    found = seal([(CELL, people("abcd") + again[:4]), (OTHER, people("efgh") + again[4:])], k=4)
    assert [bundle.kind for bundle in found.bundles] == ["between", "within", "kurtosis"]
    found = seal([(CELL, [*people("abcdefgh"), *again])])
    assert [bundle.kind for bundle in found.bundles] == kinds
    assert len(found.bundle_people) == len(found.bundles)
    if "within" in kinds:
        assert found.bundle_people[1] == tuple("abcde")
        assert found.bundles[1].n_people == 5


def test_scopes_have_bundles_of_their_own():
    found = seal([(Cell("g1", "calf"), people("abcde")), (OTHER, people("fghij"))])
    assert [(bundle.scope, bundle.kind) for bundle in found.bundles] == [
        (scope, kind) for scope in ("everyone", "g1") for kind in ("between", "kurtosis")
    ]


def test_squares_within_people_have_the_expectation_they_state():
    """3,000 wears in pairs: observed squares over wear factor times variance plus noise factor, within 5 %."""
    rng = np.random.default_rng(13)
    members = []
    for index in range(1500):
        for _ in range(2):
            readings = rng.normal(0, 0.03) + 0.09 * rng.standard_normal(int(rng.integers(8, 60)))
            members.append(Member(f"p{index}", f"a{index}", Summary({"all": Stratum.of(readings)})))
    bundle = seal([(CELL, members)]).bundles[1]
    squares, freedom, wear_factor, noise, _ = (SEAL_VERSION_1.from_grid(unit) for unit in bundle.sums["location"])
    assert freedom == 1500
    assert squares / (wear_factor * 0.03**2 + noise) == pytest.approx(1, abs=0.05)
