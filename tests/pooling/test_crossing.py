"""The cross table of a wear against the strata and the counts of lows of the same wear."""

import msgspec
import numpy as np
import pytest

from pooling.crossing import CROSSED, PARTITIONS, Crossed, added, cell_of
from pooling.summary import SummaryRules, from_bytes, summarise, to_bytes
from tests.pooling.test_summary import _columns, _random_rows


def a_wear(seed, n=400):
    rows = _random_rows(np.random.default_rng(seed), n)
    return summarise(
        _columns(rows),
        worn_min=20_000,
        rules=SummaryRules(version=1),
        end_reason="completed",
        skin_grade=None,
        ratings=None,
    )


def total(summary, part):
    return sum((own for index, own in summary.crossed.items() if part in CROSSED[index]), Crossed())


@pytest.mark.parametrize("seed", range(5))
def test_adding_up_the_cells_of_a_part_gives_its_stratum(seed):
    summary = a_wear(seed)
    for part in (*PARTITIONS["phase"], *PARTITIONS["range"], "scheduled", "doubt"):
        stratum, own = summary.strata[part], total(summary, part)
        assert (own.n_pairs, own.k15, own.k20) == (stratum.n_pairs, stratum.k15, stratum.k20)
        assert own.d == pytest.approx(stratum.a1)
        assert own.y == pytest.approx(stratum.m * stratum.n_pairs, abs=1e-12)


@pytest.mark.parametrize("seed", range(5))
def test_lows_are_those_of_the_summary(seed):
    summary = a_wear(seed)
    low = total(summary, "reference_low")
    others = total(summary, "reference_mid") + total(summary, "reference_high")
    assert (low.shown_low, low.n_shown) == (summary.both_low, summary.both_low + summary.missed_low)
    assert (others.shown_low, others.n_shown) == (summary.false_low, summary.false_low + summary.neither)


def test_every_cell_has_its_number():
    shape = [len(parts) for parts in PARTITIONS.values()]
    places = np.indices(shape).reshape(3, -1)
    assert cell_of(*places).tolist() == list(range(27))
    assert [
        tuple(PARTITIONS[name][place] for name, place in zip(PARTITIONS, own, strict=True)) for own in places.T
    ] == list(CROSSED)


def test_cells_without_a_pair_are_not_there_and_parts_add_up():
    first, second = a_wear(1, 30), a_wear(2, 30)
    assert all(own.n_shown for own in first.crossed.values())
    both = added(first.crossed, second.crossed)
    assert sum(own.n_shown for own in both.values()) == sum(
        own.n_shown for summary in (first, second) for own in summary.crossed.values()
    )
    assert list(both) == sorted(both)


def test_it_survives_being_written_down():
    summary = a_wear(3)
    assert from_bytes(to_bytes(summary)).crossed == summary.crossed
    assert set(msgspec.to_builtins(summary.crossed)) <= set(range(27))
