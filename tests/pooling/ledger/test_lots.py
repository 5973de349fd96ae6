"""Sums by lot: whatever numbers multiply them, with blocks, parts and ties, nobody or k people are left."""

from itertools import product

import numpy as np
import pytest

from pooling.ledger import plan_lots, plan_parts, plan_ties

K = 3
PAIRS = tuple(product(("early", "late"), ("low", "high")))


def world(rng):
    """Wears at three cells: the account, who is the wearer too, whether by lot, and where its pairs are."""
    cells = "abc"[: rng.integers(1, 4)]
    share, both = rng.uniform(0.2, 0.8), rng.uniform(0.0, 0.9)
    at = {cell: [] for cell in cells}
    for number in range(rng.integers(6, 16)):
        for cell in cells:
            if rng.random() < both or cell == cells[number % len(cells)]:
                for _ in range(rng.integers(1, 3)):
                    inside = [own for own in PAIRS if rng.random() < 0.8] or [PAIRS[0]]
                    at[cell].append((f"p{number}", bool(rng.random() < share), inside))
    return at


def rows_of(at, lots, weigh):
    """All that is sealed over atoms (one for each wear and crossing), weights by `weigh`; and whose each atom is."""
    atoms = [(cell, who, lot, inside) for cell, own in at.items() for who, lot, pairs in own for inside in pairs]
    wear_of = [(cell, index) for cell, own in at.items() for index, (_, _, pairs) in enumerate(own) for _ in pairs]
    weight = {wear: weigh() for wear in sorted(set(wear_of))}
    unit = {(cell, who): weigh() for cell, who, _, _ in atoms}
    of_atom = np.array([weight[wear] * unit[cell, who] for wear, (cell, who, _, _) in zip(wear_of, atoms, strict=True)])

    def row(inside):
        return np.array([of_atom[i] if inside(*atom) else 0.0 for i, atom in enumerate(atoms)])

    rows = [row(lambda c, *_, cell=cell: c == cell) for cell in at]
    rows += [
        row(lambda c, _who, lot, _in, cell=cell, side=side: c == cell and lot is side)
        for cell in lots
        for side in (False, True)
    ]
    for bundle in plan_parts({cell: [(w, p) for w, _, p in own] for cell, own in at.items()}, K, together=[list(at)]):
        for partition in bundle.partitions:
            rows += [
                row(lambda c, _w, _l, own, b=bundle, n=partition, part=part: c in b.cells and own[n] == part)
                for part in sorted({own[partition] for own in PAIRS})
            ]
    ties = ties_of(at)
    for tie in ties:
        held = {who: {c for c in tie.cells if (c, who) in unit} for who in tie.linkers}
        q2 = {(c, who): weigh() for who, own in held.items() for c in own}
        for entry in tie.cells:
            rows.append(np.zeros(len(atoms)))
            for i, (cell, who, _, _) in enumerate(atoms):
                if cell in held.get(who, ()) and entry in held[who]:
                    own = sum(q2[c, who] for c in held[who])
                    factor = q2[entry, who] * (float(cell == entry) - q2[cell, who] / own)
                    rows[-1][i] = factor * weight[wear_of[i]]
    return np.array(rows), [who for _, who, _, _ in atoms]


def ties_of(at):
    cells_of = {}
    for cell, own in at.items():
        for who, *_ in own:
            cells_of.setdefault(who, set()).add(cell)
    return plan_ties(cells_of, K)


def planned(at):
    linkers = {linker for tie in ties_of(at) for linker in tie.linkers}
    return plan_lots({cell: [(who, who, lot) for who, lot, _ in own] for cell, own in at.items()}, K, linkers=linkers)


def fewest_left(rows, who):
    """Fewest people behind a combination, K for that many and more: whether the others' columns have less rank."""
    people = sorted(set(who))
    column = np.array([people.index(one) for one in who])
    whole = np.linalg.matrix_rank(rows, tol=1e-9)
    for first in range(len(people)):
        for second in range(first, len(people)):
            outside = (column != first) & (column != second)
            if np.linalg.matrix_rank(rows[:, outside], tol=1e-9) < whole:
                return 1 if first == second else 2
    return K


@pytest.mark.parametrize("equal", [False, True], ids=["any weights", "equal weights"])
def test_with_blocks_parts_and_ties_nobody_or_k_people_are_left(equal):
    """Random worlds: no combination is carried by one or two people alone (k is 3)."""
    n_split = 0
    for seed in range(120):
        rng = np.random.default_rng(seed)
        at = world(rng)
        if lots := planned(at):
            n_split += 1
            weigh = (lambda: 1.0) if equal else lambda rng=rng: rng.uniform(0.5, 2.0)
            assert fewest_left(*rows_of(at, lots, weigh)) == K, seed
    assert n_split >= 30


def test_k_people_on_each_side_are_not_enough_where_they_are_tied():
    """Six by lot wear both cells and are tied, a seventh one of them: the two sides less the tie are the seventh."""
    tied = [(f"p{i}", True, PAIRS) for i in range(6)]
    at = {
        cell: [*tied, *((f"{cell}{i}", False, PAIRS) for i in range(6)), *extra]
        for cell, extra in (("a", [("seventh", True, PAIRS)]), ("b", []))
    }
    assert ties_of(at)
    assert planned(at) == ()
    assert fewest_left(*rows_of(at, (), lambda: 1.0)) == K
    assert fewest_left(*rows_of(at, ("a", "b"), lambda: 1.0)) < K


@pytest.mark.parametrize(("linkers", "told"), [((), True), (("p0",), False), (("p9",), True)])
def test_a_wearer_with_wears_on_both_sides_is_left_whether_linking_or_not(linkers, told):
    wears = [(f"a{i}", f"p{i}", True) for i in range(3)] + [(f"a{i}", f"p{i}", False) for i in (9, 10, 11)]
    assert plan_lots({"calf": wears}, 3, linkers=linkers if linkers != ("p9",) else ()) == (("calf",) if told else ())
    crossed = [*wears, ("a0", "p0", False)]
    assert plan_lots({"calf": crossed}, 3, linkers=["p0"]) == ("calf",)
