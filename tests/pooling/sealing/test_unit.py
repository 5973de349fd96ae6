from dataclasses import replace

import numpy as np
import pytest

from pooling.errors import InvalidInput
from pooling.sealing.unit import Member, units_of
from pooling.sealing.version import CHANNELS, SEAL_VERSION_1
from pooling.sealing.wear import wear_values
from tests.calibration.pools import Stratum, Summary


def members(*sizes, person="ada", account="a1"):
    rng = np.random.default_rng(len(sizes))
    return [Member(person, account, Summary({"all": Stratum.of(0.1 * rng.standard_normal(n))})) for n in sizes]


def test_wears_of_one_wearer_become_their_weighted_mean():
    wears = members(10, 60)
    (unit,) = units_of(wears, SEAL_VERSION_1)
    for channel in CHANNELS:
        values = [wear_values(wear.summary.strata["all"], 0, SEAL_VERSION_1)[channel] for wear in wears]
        weights = np.array([value.weight for value in values])
        expected = weights @ [value.value for value in values] / weights.sum()
        assert unit.channels[channel].value == pytest.approx(expected, rel=1e-12, abs=1e-15)
        assert 0.5 <= unit.channels[channel].share < 1
    assert (unit.n_wears, unit.n_pairs) == (2, 70)


def test_one_wear_has_share_one_and_nothing_within():
    (unit,) = units_of(members(20), SEAL_VERSION_1)
    for value in unit.channels.values():
        assert (value.share, value.squares, value.wear_factor) == (1.0, 0.0, 0.0)


def test_more_wears_weigh_more_but_never_more_than_one():
    weights = [units_of(members(*[30] * count), SEAL_VERSION_1)[0].channels["direct"].q1 for count in (1, 2, 20)]
    assert weights == sorted(weights)
    assert weights[-1] < 1


def test_order_of_wears_does_not_change_a_bit():
    wears = members(9, 17, 33, 81, 12)
    one, other = (units_of(found, SEAL_VERSION_1)[0].channels for found in (wears, wears[::-1]))
    turned = {channel: value._replace(shares=value.shares[::-1]) for channel, value in other.items()}
    assert one == turned


def test_units_come_in_order_of_names():
    people = [units.person for units in units_of([*members(9, person="b"), *members(9, person="a")], SEAL_VERSION_1)]
    assert people == ["a", "b"]


def test_a_wearer_has_one_account():
    one, other = members(9, 10)
    with pytest.raises(InvalidInput, match="one account"):
        units_of([one, replace(other, account="a2")], SEAL_VERSION_1)
