"""Versions of a cell: by nobody or by at least k people, whichever two are taken."""

import pytest

from pooling.audit import AuditRow
from pooling.audit.versions import Version, changes
from pooling.errors import InvalidInput
from tests.pooling.audit.sums import FIRST, PEOPLE, SECOND, THIRD, K, block, owners


def looked_at(*records, rows=(FIRST, SECOND, THIRD), cell="thigh.front"):
    versions = [Version(cell, frozenset(held)) for held in records]
    return changes(versions, rows, owners(*rows), k=K)


def test_whole_blocks_come_and_go():
    found = looked_at("a", "ab", "b", "bc", "bc")
    assert (found.n_pairs, found.n_thin) == (10, 0)
    assert found.passed
    assert found.reasons() == ()


def test_not_only_successive_ones():
    """Of three blocks, two have most of the same wears: the first version and the last differ by one person."""
    edited = AuditRow("d", "block", (*FIRST.atoms[1:], "d/p00/0"))
    found = looked_at("a", "b", "d", rows=(FIRST, SECOND, edited))
    assert found.n_thin == 1
    assert found.reasons() == ("1 pair of versions of a cell differs by too few people",)


@pytest.mark.parametrize(("n", "thin"), [(4, 1), (5, 0)])
def test_people_not_wears(n, thin):
    rows = (FIRST, block("e", PEOPLE[:n], wears=3))
    assert looked_at("a", "ae", rows=rows).n_thin == thin


def test_cells_are_compared_with_themselves():
    rows = (FIRST, block("e", PEOPLE[:3]))
    versions = [Version("calf", frozenset("a")), Version("chest", frozenset("ae"))]
    assert changes(versions, rows, owners(*rows), k=K).n_pairs == 0


def test_every_repeat_counts():
    rows = (FIRST, block("e", PEOPLE[:3]))
    assert looked_at("a", "a", "ae", rows=rows).n_thin == 2


def test_a_record_that_is_not_there():
    with pytest.raises(InvalidInput, match="rests on a record"):
        looked_at("ax")
