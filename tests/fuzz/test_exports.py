"""A short slice of `python -m tests.fuzz`, and that it would see a fault."""

import random

import pytest

from pooling.importing import moments, table
from tests.fuzz.exports import check, corpus, odd_export

SEED, SLICE = 20_310_301, 400


def test_only_clear_errors_come_out_of_odd_exports():
    seeds, opened = corpus(), 0
    for number in range(SLICE):
        chance = random.Random(SEED + number)
        opened += check(odd_export(chance, seeds), chance)
    assert SLICE // 2 < opened < SLICE


def broken(*_):
    raise KeyError


@pytest.mark.parametrize("place", ["_fill", "orders_left", "_seconds"])
def test_a_fault_would_be_seen(monkeypatch, place):
    module = moments if place.startswith("_") else table
    monkeypatch.setattr(module, place, broken)
    with pytest.raises(KeyError):
        test_only_clear_errors_come_out_of_odd_exports()
