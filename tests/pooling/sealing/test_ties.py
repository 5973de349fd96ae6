from dataclasses import replace

import numpy as np
import pytest

from pooling.errors import InvalidInput, TooFewPeople
from pooling.ledger import PlannedTie
from pooling.sealing import CHANNELS, SEAL_VERSION_1, Cell, Member, seal_slot
from pooling.sealing.unit import units_of
from tests.calibration.pools import Stratum, Summary, simulate, ties_between

FREE = SEAL_VERSION_1.unmasked(number=99, grid_bits=60)
A, B, C, D = (Cell("everyone", name) for name in "abcd")


def wear(person, seed, account=None, n_pairs=20):
    readings = 0.1 * np.random.default_rng(seed).standard_normal(n_pairs)
    return Member(person, account or f"account of {person}", Summary({"all": Stratum.of(readings)}))


def seal(blocks, *, ties=None, version=SEAL_VERSION_1, key=b"slot", k=5):
    ties = ties_between(blocks, k=k) if ties is None else ties
    return seal_slot(blocks, ties=ties, open_places=(), end_bucket=4, version=version, key=key, k=k).ties


def worn(cells_of, seed=0):
    """One wear a person and cell, as blocks."""
    blocks = {}
    for person in sorted(cells_of):
        for cell in cells_of[person]:
            seed += 1
            blocks.setdefault(cell, []).append(wear(person, seed))
    return sorted(blocks.items())


def test_sums_are_those_of_the_linkers():
    cells_of = {f"p{i}": (A, B) for i in range(6)} | {f"q{i}": (A,) for i in range(5)}
    blocks = worn(cells_of)
    (tie,) = seal(blocks, version=FREE)
    assert (tie.n_people, tie.cells, tie.scope) == (6, (A, B), "everyone")
    units = {cell: units_of([members], FREE) for cell, members in blocks}
    for row, channel in enumerate(CHANNELS):
        right, total = np.zeros(2), 0.0
        for person in (f"p{i}" for i in range(6)):
            (qa, a), (qb, b) = (
                (own.values.q2[row, own.people.index(person)], own.values.value[row, own.people.index(person)])
                for own in (units[cell] for cell in (A, B))
            )
            weight = qa * qb / (qa + qb)
            right += weight * (a - b) * np.array([1, -1])
            total += weight * (a - b) ** 2
        numbers = [FREE.from_grid(unit) for unit in tie.sums[channel]]
        np.testing.assert_allclose(numbers[:2], right, rtol=1e-10, atol=1e-14)
        assert numbers[-5] == pytest.approx(total, rel=1e-10)
        assert numbers[-4] == 6


def test_a_linkers_own_level_cancels():
    """Everything a person adds at all of their cells leaves the right-hand side as it was."""
    blocks = worn(
        {f"p{i}": (A, B, C) for i in range(6)} | {f"q{i}{cell}": (cell,) for cell in (A, B, C) for i in range(5)}
    )
    raised = [
        (
            cell,
            [
                Member(
                    m.person,
                    m.account,
                    Summary({"all": replace(m.summary.strata["all"], m=m.summary.strata["all"].m + 0.07)}),
                )
                for m in members
            ],
        )
        for cell, members in blocks
    ]
    one, other = (seal(found, version=FREE)[0].sums["location"][:3] for found in (blocks, raised))
    np.testing.assert_allclose(
        [FREE.from_grid(unit) for unit in one], [FREE.from_grid(unit) for unit in other], atol=1e-14
    )


def test_entries_have_the_noise_that_they_state():
    cells_of = {f"p{i}": (A, B) for i in range(6)} | {f"q{i}": (A,) for i in range(5)}
    blocks = worn(cells_of)
    (bare,) = seal(blocks, version=FREE)
    drawn = [seal(blocks, key=bytes([i]))[0] for i in range(60)]
    for channel in CHANNELS:
        free = np.array([FREE.from_grid(unit) for unit in bare.sums[channel]])
        own = np.array([[SEAL_VERSION_1.from_grid(unit) for unit in tie.sums[channel]] for tie in drawn])
        off = own - free
        assert (off[:, :2] ** 2).mean(axis=0) / own[0, 2:4] == pytest.approx(1, abs=0.6)
        assert (off[:, -5] ** 2).mean() / own[0, -1] == pytest.approx(1, abs=0.6)


def test_order_of_members_does_not_matter():
    rng = np.random.default_rng(6)
    blocks = simulate(rng, n_people=60, n_cells=3).blocks()
    ties = ties_between(blocks)
    expected = seal(blocks, ties=ties)
    assert expected
    shuffled = [(cell, [members[i] for i in rng.permutation(len(members))]) for cell, members in blocks[::-1]]
    assert seal(shuffled, ties=ties) == expected


def test_linkers_of_one_account_are_refused():
    children = {f"child{i}": (A, B) for i in range(6)} | {f"q{i}": (A, B) for i in range(5)}
    blocks = [
        (cell, [replace(m, account="one household") if m.person.startswith("child") else m for m in members])
        for cell, members in worn(children)
    ]
    with pytest.raises(InvalidInput, match="an account of their own"):
        seal(blocks, ties=[PlannedTie((A, B), tuple(f"child{i}" for i in range(6)))])


def test_what_no_plan_would_give_is_refused():
    cells_of = {f"p{i}": (A, B) for i in range(6)} | {f"q{i}": (A,) for i in range(5)}
    blocks = worn(cells_of)
    everyone = tuple(sorted(cells_of))
    with pytest.raises(InvalidInput, match="two or more"):
        seal(blocks, ties=[PlannedTie((A, B), everyone)])
    with pytest.raises(TooFewPeople, match="straddled"):
        seal(blocks, ties=[PlannedTie((A, B), everyone[:4])])
    with pytest.raises(InvalidInput, match="one scope"):
        seal(blocks, ties=[PlannedTie((A, Cell("g1", "b")), everyone[:6])])
    with pytest.raises(InvalidInput, match="has a block"):
        seal(blocks, ties=[PlannedTie((A, C), everyone[:6])])
    alone = worn({f"p{i}": (A, B) for i in range(6)})
    with pytest.raises(TooFewPeople, match="fewer than 5 people are left"):
        seal(alone, ties=[PlannedTie((A, B), everyone[:6])])
