from dataclasses import fields, replace

import numpy as np
import pytest

from pooling.errors import InvalidInput
from pooling.sealing.unit import Member, UnitValues, units_of
from pooling.sealing.version import CHANNELS, SEAL_VERSION_1
from pooling.sealing.wear import Strata, wear_values
from tests.calibration.pools import Stratum, Summary


def members(*sizes, person="ada", account="a1"):
    rng = np.random.default_rng(len(sizes))
    return [Member(person, account, Summary({"all": Stratum.of(0.1 * rng.standard_normal(n))})) for n in sizes]


def test_wears_of_one_wearer_become_their_weighted_mean():
    wears = members(10, 60)
    found = wear_values(Strata.of([wear.summary.strata["all"] for wear in wears]), np.zeros(2, int), SEAL_VERSION_1)
    unit = units_of([wears], SEAL_VERSION_1)
    expected = (found.weight * found.value).sum(axis=1) / found.weight.sum(axis=1)
    np.testing.assert_allclose(unit.values.value[:, 0], expected, rtol=1e-12, atol=1e-15)
    assert ((unit.values.share >= 0.5) & (unit.values.share < 1)).all()
    assert (unit.n, unit.n_wears.tolist(), unit.n_pairs.tolist()) == (1, [2], [70])


def test_one_wear_has_share_one_and_nothing_within():
    values = units_of([members(20)], SEAL_VERSION_1).values
    assert (values.share == 1).all()
    assert (values.squares == 0).all()
    assert (values.wear_factor == 0).all()


def test_more_wears_weigh_more_but_never_more_than_one():
    row = CHANNELS.index("direct")
    weights = [units_of([members(*[30] * count)], SEAL_VERSION_1).values.q1[row, 0] for count in (1, 2, 20)]
    assert weights == sorted(weights)
    assert weights[-1] < 1


def test_order_of_wears_does_not_change_a_bit():
    wears = members(9, 17, 33, 81, 12)
    one, other = (units_of([found], SEAL_VERSION_1).values for found in (wears, wears[::-1]))
    for field in fields(UnitValues):
        own, turned = getattr(one, field.name), getattr(other, field.name)
        assert np.array_equal(own, turned[:, ::-1] if field.name == "shares" else turned)


def test_units_come_block_by_block_in_order_of_names():
    blocks = [[*members(9, person="b"), *members(9, person="a")], members(10, 11, person="b"), members(12, person="b")]
    units = units_of(blocks, SEAL_VERSION_1)
    assert units.people == ("a", "b", "b", "b")
    assert units.block.tolist() == [0, 0, 1, 2]
    assert (units.first_wear.tolist(), units.order.tolist()) == ([0, 1, 2, 4], [1, 0, 2, 3, 4])
    assert units.n_pairs.tolist() == [9, 9, 21, 12]


def test_no_blocks_have_no_units():
    assert units_of([], SEAL_VERSION_1).n == units_of([], SEAL_VERSION_1, "survival").n == 0


def test_a_wearer_has_one_account():
    one, other = members(9, 10)
    with pytest.raises(InvalidInput, match="one account"):
        units_of([[one, replace(other, account="a2")]], SEAL_VERSION_1)
