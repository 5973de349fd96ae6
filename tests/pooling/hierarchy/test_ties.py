import numpy as np
import pytest

from pooling.hierarchy.pool import where
from pooling.hierarchy.ties import no_ties, tie_data
from pooling.sealing import SEAL_VERSION_1, Cell, Member, seal_slot
from tests.calibration.pools import Stratum, Summary, ties_between

FREE = SEAL_VERSION_1.unmasked(number=99, grid_bits=60)
VERSIONS = {1: SEAL_VERSION_1, 99: FREE}
PLACES = ("a", "b", "c", "d", "e")
POSITION = {(place, None): index for index, place in enumerate(PLACES)}


def sealed(cells_of, seed, version=FREE, effects=None):
    """Ties of people with one wear at each cell; effects are added to the cells' log ratios."""
    rng = np.random.default_rng(seed)
    blocks = {}
    for person, cells in sorted(cells_of.items()):
        own = rng.normal(0, 0.05)
        for cell in cells:
            readings = own + (effects or {}).get(cell, 0.0) + 0.09 * rng.standard_normal(25)
            member = Member(person, f"account of {person}", Summary({"all": Stratum.of(readings)}))
            blocks.setdefault(Cell("everyone", cell), []).append(member)
    planned = sorted(blocks.items())
    return seal_slot(
        planned, ties=ties_between(planned), open_places=(), end_bucket=4, version=version, key=b"slot", k=5
    ).ties


def linked(*cells, n=8, start=0):
    return {f"l{start + i:02d}": cells for i in range(n)} | {f"s{start + i:02d}": cells[:1] for i in range(5)}


def test_without_ties_there_are_no_rows():
    data = tie_data((), "location", VERSIONS, POSITION, where)
    assert data.to_rows.shape == no_ties(5).to_rows.shape == (0, 5)
    assert data.components == ()


def test_components_are_what_ties_connect():
    ties = sealed(linked("a", "b"), 1) + sealed(linked("d", "e", start=50), 2)
    data = tie_data(ties, "location", VERSIONS, POSITION, where)
    assert data.components == ((0, 1), (3, 4))
    assert data.to_rows.shape == (2, 5)
    np.testing.assert_allclose(data.to_rows @ np.ones(5), 0, atol=1e-12)
    np.testing.assert_allclose(data.to_rows[:, 2], 0, atol=1e-12)


def test_batches_add_up_and_join():
    """a-b of one slot and b-c of another make one component of three cells."""
    data = tie_data(
        sealed(linked("a", "b"), 1) + sealed(linked("b", "c", start=50), 2), "location", VERSIONS, POSITION, where
    )
    assert data.components == ((0, 1, 2),)
    assert data.freedom == 16 - 2


@pytest.mark.parametrize(("version", "tolerance"), [(FREE, 1e-10), (SEAL_VERSION_1, 0.02)])
def test_differences_come_back_whoever_chose(version, tolerance):
    """The same people with effects added to the cells: the solved differences move by those effects."""
    effects = {"a": 0.03, "b": -0.02, "c": 0.0}
    found = []
    for added in ({}, effects):
        data = tie_data(sealed(linked("a", "b", "c", n=30), 7, version, added), "location", VERSIONS, POSITION, where)
        solved = np.linalg.pinv(data.to_rows) @ data.contrasts
        found.append(solved[:3] - solved[:3].mean())
    truth = np.array([0.03, -0.02, 0.0]) - 0.01 / 3
    np.testing.assert_allclose(found[1] - found[0], truth, atol=tolerance)


def test_ties_at_cells_without_a_block_are_left_out():
    position = {("a", None): 0, ("c", None): 1}
    assert tie_data(sealed(linked("a", "b"), 1), "location", VERSIONS, position, where).components == ()
