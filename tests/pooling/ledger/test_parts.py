"""Parts of blocks: who can be isolated by blocks, parts and ties together, tried over all small sets of people."""

from itertools import combinations

import numpy as np
import pytest

from pooling.ledger import PlannedParts, plan_parts, plan_ties
from tests.pooling.ledger.test_ties import rank

PHASES, RANGES = ("early", "late"), ("low", "mid", "high")
FULL = [(phase, level) for phase in PHASES for level in RANGES]


def world(rng, n_people, n_cells, share, presence=0.8):
    """People at cells; every (person, cell) has pairs in some crossings."""
    at = {}
    for i in range(n_people):
        for cell in "abc"[:n_cells]:
            crossings = [crossing for crossing in FULL if rng.random() < share]
            if crossings and rng.random() < presence:
                at[f"p{i}", cell] = crossings
    return at


def blocks_of(at, k):
    cells = {cell for _, cell in at}
    enough = {cell for cell in cells if len({p for p, c in at if c == cell}) >= k}
    return {cell: [(p, own) for (p, c), own in at.items() if c == cell] for cell in sorted(enough)}


def rows_of(blocks, parts, ties):
    """Sums as coefficients over (person, cell, crossing), all weights 1; ties with equal weights, times 6."""
    atoms = [(person, cell, crossing) for cell, wears in blocks.items() for person, own in wears for crossing in own]
    rows = [[6 * (cell == block) for _, cell, _ in atoms] for block in blocks]
    for bundle in parts:
        inside = [crossing for cell in bundle.cells for _, own in blocks[cell] for crossing in own]
        for place in bundle.partitions:
            for part in sorted({crossing[place] for crossing in inside}):
                rows.append([6 * (cell in bundle.cells and crossing[place] == part) for _, cell, crossing in atoms])
    cells_of = {}
    for person, cell, _ in atoms:
        cells_of.setdefault(person, set()).add(cell)
    for tie in ties:
        for entry in tie.cells:
            row = []
            for person, cell, _ in atoms:
                own = cells_of[person] & set(tie.cells)
                linked = person in tie.linkers and cell in own and entry in own
                row.append(6 * (cell == entry) - 6 // len(own) if linked else 0)
            rows.append(row)
    return atoms, rows


def isolated(blocks, parts, ties, k):
    atoms, rows = rows_of(blocks, parts, ties)
    whole = rank([[value % (2**61 - 1) for value in row] for row in rows])
    found = []
    people = sorted({person for person, _, _ in atoms})
    for size in range(1, k):
        for group in combinations(people, size):
            kept = [i for i, (person, _, _) in enumerate(atoms) if person not in group]
            if rank([[row[i] % (2**61 - 1) for i in kept] for row in rows]) < whole:
                found.append(group)
    return found


def cells_of(blocks):
    found = {}
    for cell, wears in blocks.items():
        for person, _ in wears:
            found.setdefault(person, []).append(cell)
    return found


@pytest.mark.parametrize("k", [2, 3])
@pytest.mark.parametrize("share", [0.3, 0.5, 0.8])
def test_no_combination_of_blocks_parts_and_ties_isolates_fewer_than_k_people(k, share):
    n_parts = n_ties = 0
    for seed in range(30):
        rng = np.random.default_rng([seed, int(10 * share), k])
        blocks = blocks_of(world(rng, int(rng.integers(4, 9)), int(rng.integers(1, 4)), share), k)
        parts = plan_parts(blocks, k, together=[*([cell] for cell in blocks), tuple(blocks)])
        ties = plan_ties(cells_of(blocks), k)
        n_parts, n_ties = n_parts + len(parts), n_ties + len(ties)
        assert isolated(blocks, parts, ties, k) == [], (seed, blocks)
    assert n_parts >= 10
    assert n_ties >= 2


def none_or_k(blocks, k, *, partitions=(0, 1)):
    """What most would ask: in every part nobody, or k people with pairs there. All blocks in one bundle."""
    cells = tuple(blocks)
    for place in partitions:
        parts = {}
        for cell in cells:
            for person, own in blocks[cell]:
                for crossing in own:
                    parts.setdefault(crossing[place], set()).add(person)
        if any(len(people) < k for people in parts.values()):
            return ()
    return (PlannedParts(cells, partitions),)


@pytest.mark.parametrize(
    ("n_people", "n_cells", "share", "presence", "partitions"),
    [(7, 1, 0.35, 0.8, (0, 1)), (14, 3, 0.15, 0.5, (1,))],
    ids=["two partitions", "bundles"],
)
def test_the_same_attack_breaks_a_rule_that_only_counts_who_is_in_a_part(
    n_people, n_cells, share, presence, partitions
):
    broken = tried = 0
    for seed in range(60):
        blocks = blocks_of(world(np.random.default_rng(seed), n_people, n_cells, share, presence), 3)
        parts = none_or_k(blocks, 3, partitions=partitions)
        tried += bool(parts)
        broken += bool(parts) and bool(isolated(blocks, parts, (), 3))
    assert tried > 10
    assert broken >= 3


def test_a_bundle_without_a_wear_that_was_taken_back_gives_that_wear_away():
    """Why parts are sealed with their blocks or never."""
    blocks = {"a": [(f"p{i}", FULL) for i in range(6)]}
    atoms, rows = rows_of(blocks, plan_parts(blocks, 3, together=[["a"]]), ())
    leaver = [index for index, (person, _, _) in enumerate(atoms) if person == "p0"]
    late = [rows[0], *([0 if index in leaver else value for index, value in enumerate(row)] for row in rows[1:])]
    others = [index for index in range(len(atoms)) if index not in leaver]
    assert rank([[row[i] for i in others] for row in late]) < rank(late)


def test_blocks_that_are_thin_by_themselves_go_into_a_wider_bundle():
    few, many = [(f"p{i}", FULL[:2]) for i in range(2)], [(f"q{i}", FULL) for i in range(5)]
    blocks = {"a": many, "b": few + [(f"r{i}", FULL[:1]) for i in range(3)], "c": [(f"s{i}", FULL) for i in range(5)]}
    assert plan_parts(blocks, 5, together=[["a"], ["b"], ["c"], ["a", "b", "c"]]) == (
        PlannedParts(("a",), (0, 1)),
        PlannedParts(("c",), (0, 1)),
    )
    assert plan_parts(blocks, 5, together=[["b"], ["b", "c"]]) == (PlannedParts(("b", "c"), (0, 1)),)


def test_people_count_once_however_many_wears_they_have():
    wears = [("one account", FULL)] * 9
    assert plan_parts({"a": wears}, 2, together=[["a"]]) == ()


def test_a_partition_with_a_single_part_says_nothing():
    early = [crossing for crossing in FULL if crossing[0] == "early"]
    assert plan_parts({"a": [(f"p{i}", early) for i in range(9)]}, 5, together=[["a"]]) == (PlannedParts(("a",), (1,)),)


def test_nothing_makes_no_parts():
    assert plan_parts({}, 5, together=[[]]) == ()
    assert plan_parts({"a": [(f"p{i}", []) for i in range(9)]}, 5, together=[["a"]]) == ()
