"""Faults planted in what was sealed: what a ledger with one rule missing would have made. The auditor refuses them.

`python -m tests.pooling.audit.faults` prints which.
"""

from collections.abc import Callable
from dataclasses import replace

from pooling.audit import AuditRow, Verdict, audit
from tests.pooling.audit.sums import FIRST, PEOPLE, SECOND, THIRD, K, block, owners, rest, union

Rows = list[AuditRow]


def counted_records():
    """Three people with two wears each."""
    return [block("a", PEOPLE[:3], wears=2)]


def edited_in_place():
    return [FIRST, AuditRow("a", "block", rest(FIRST, "p00").atoms)]


def appended_to_an_open_block():
    return [FIRST, AuditRow("a", "block", (*FIRST.atoms, "new/p20/0"))]


def replaced_by_a_newcomer():
    """One leaves, one joins: two people between the versions."""
    return [FIRST, AuditRow("a", "block", (*rest(FIRST, "p00").atoms, "new/p20/0"))]


def survivors_packed_again():
    """The block closes when somebody leaves, and its survivors enter another with too few fresh people."""
    fresh = block("fresh", PEOPLE[20:22])
    return [FIRST, SECOND, union("packed", rest(FIRST, "p00"), fresh), union("whole", FIRST, fresh)]


def survivors_count_as_fresh():
    return [block("a", PEOPLE[:8]), AuditRow("again", "block", block("a", PEOPLE[1:8]).atoms)]


def fresh_for_each_table():
    """By site k people are fresh, by model k people are fresh, and the two tables cut the same wears differently."""
    wears = block("w", PEOPLE[:20])
    by_site = [AuditRow(f"site{n}", "block", wears.atoms[10 * n : 10 * n + 10]) for n in range(2)]
    by_model = [
        AuditRow("model0", "block", (*wears.atoms[:9], *wears.atoms[10:19])),
        AuditRow("all but one", "block", wears.atoms[:19]),
    ]
    return [*by_site, *by_model]


def two_groups_and_everyone():
    """Everyone's sum, less those of two groups, is the one who is in neither."""
    return [union("everyone", FIRST, SECOND, block("none", ["p20"])), FIRST, SECOND]


def overlapping_groups():
    """Three share with one group and not with the other; each group is large enough."""
    return [block("a", PEOPLE[:12]), AuditRow("other", "block", block("a", PEOPLE[3:12]).atoms)]


def part_that_leaves_one():
    """Parts of a bundle of two blocks: all of the one and a single person of the other."""
    return [FIRST, SECOND, AuditRow("part", "part", (*FIRST.atoms, SECOND.atoms[0]))]


def part_without_fresh_people():
    """A bundle whose part holds one survivor of an ended block and nobody else of it."""
    bundle = block("b", PEOPLE[6:12])
    return [FIRST, bundle, AuditRow("part", "part", (*bundle.atoms, FIRST.atoms[2]))]


def two_partitions_at_once():
    """Phases and ranges of one block; each part has k people, yet few straddle both."""
    whole = block("w", PEOPLE[:12], wears=2)
    early = AuditRow("early", "part", whole.atoms[:12])
    low = AuditRow("low", "part", (*whole.atoms[:11], whole.atoms[12]))
    return [whole, early, low]


def tie_edited_in_place():
    tie = AuditRow("tie", "tie", FIRST.atoms, (0.5, 0.4, 0.3, 0.5, 0.2, 0.1))
    return [tie, AuditRow("tie", "tie", FIRST.atoms[1:], (0.4, 0.3, 0.5, 0.2, 0.1))]


def ties_appended_one_by_one():
    return [AuditRow(f"tie{n}", "tie", THIRD.atoms + SECOND.atoms[:n]) for n in range(3)]


def nearly_all_wear_both():
    """Equal weights: the two blocks less twice the tie leave the only one who wore a single cell."""
    one, two = block("one", PEOPLE[:8]), block("two", PEOPLE[:9])
    linkers = PEOPLE[:8]
    atoms = tuple(f"{cell}/{person}/0" for cell in ("one", "two") for person in linkers)
    return [one, two, AuditRow("tie", "tie", atoms, (0.5,) * 8 + (-0.5,) * 8)]


def bundle_formed_again_from_survivors():
    both = union("bundle", FIRST, SECOND)
    return [both, AuditRow("bundle", "bundle", rest(both, "p00", "p07").atoms)]


def names_nobody():
    return [FIRST, AuditRow("empty", "block", ())]


def one_too_few():
    """At least k has become more than k - 2."""
    return [FIRST, block("four", PEOPLE[6:10])]


def two_bodies_of_one_account():
    """Six wearers of four accounts: atoms of a parent and of a child are one person's."""
    bodies = ("a/p00/0", "a/p00/1", "a/p01/0", "a/p01/1", "a/p02/0", "a/p03/0")
    return [AuditRow("a", "block", bodies)]


def another_number_than_was_seated():
    return [replace(FIRST, n_people=5)]


def nine_people_where_ten_were_promised():
    """A sum of a family that asks for ten."""
    return [replace(block("rating", PEOPLE[:9]), k=10)]


def six_between_two_sums_for_ten():
    """Each for ten people and more, and the difference for six."""
    whole = replace(block("rating", PEOPLE[:17]), k=10)
    return [whole, replace(rest(whole, *PEOPLE[:6]), k=10)]


def four_behind_three_sums():
    """No sum and no difference of two is too thin, and nobody is alone or in two."""
    return [union("whole", FIRST, SECOND, block("few", PEOPLE[20:24])), FIRST, SECOND]


def two_behind_blocks_who_are_in_a_tie():
    """Blocks with people enough of their own; what they differ by is two who are in a tie with others."""
    few = block("few", PEOPLE[20:22])
    tie = union("tie", few, block("t", PEOPLE[14:17]), kind="tie")
    return [union("whole", FIRST, SECOND, few, kind="block"), FIRST, SECOND, tie]


def tied(linkers, outside, *, weight=1.0):
    """Blocks of the cells, and the Laplacian sums of those who wore several: people by the cells they wore."""
    cells = sorted({cell for worn in linkers.values() for cell in worn})
    held = {cell: [who for who, worn in linkers.items() if cell in worn] for cell in cells}
    everyone = {cell: [*held[cell], *(f"{cell}{n}" for n in range(outside))] for cell in cells}
    blocks = [AuditRow(cell, "block", tuple(f"{cell}/{who}/0" for who in everyone[cell])) for cell in cells]
    ties = []
    for cell in cells:
        terms = {
            f"{other}/{who}/0": weight * ((other == cell) - 1 / len(linkers[who]))
            for who in held[cell]
            for other in linkers[who]
        }
        ties.append(AuditRow(f"tie of {cell}", "tie", tuple(terms), tuple(terms.values())))
    return [*blocks, *ties]


def tie_with_two_outside():
    """Twelve wore both cells and two in each only one: block less block less twice the tie leaves these four."""
    return tied(dict.fromkeys(PEOPLE[:12], ("x", "y")), 2)


def tie_that_four_straddle():
    """Three cells; eight link two of them, and four the third."""
    linkers = dict.fromkeys(PEOPLE[:8], ("x", "y")) | dict.fromkeys(PEOPLE[8:12], ("y", "z"))
    return tied(linkers, 5)


def tie_joined_by_a_latecomer():
    """The same tie once more, with one linker more."""
    before = tied(dict.fromkeys(PEOPLE[:8], ("x", "y")), 6)
    after = tied(dict.fromkeys(PEOPLE[:9], ("x", "y")), 6)
    return [*after, *(replace(row, record=f"first {row.record}") for row in before if row.kind == "tie")]


def cut(blocks, partitions):
    """Rows over places cut by partitions: people of each block with the cells of the cross in which they have pairs."""
    rows = [
        AuditRow(name, "block", tuple(f"{name}/{who}/{at}" for who, crossed in people.items() for at in crossed))
        for name, people in blocks.items()
    ]
    every = [atom for row in rows for atom in row.atoms]
    for place, parts in enumerate(partitions):
        for part in parts:
            held = tuple(atom for atom in every if atom.split("/")[2][place] == part)
            rows.append(AuditRow(f"part {place}{part}", "part", held))
    return rows


def part_that_four_straddle():
    """All have early readings, four have late ones too."""
    return cut({"a": {who: ["e", "l"] if n < 4 else ["e"] for n, who in enumerate(PEOPLE[:9])}}, ["el"])


def part_of_one_block_in_a_bundle():
    """All of one block have lows and one of the other: the bundle hides that one, the block's own part does not."""
    first = {who: ["m"] for who in PEOPLE[:6]} | {"p00": ["m", "l"]}
    second = {who: ["m", "l"] for who in PEOPLE[6:12]}
    rows = cut({"a": first, "b": second}, ["ml"])
    return [*rows, AuditRow("own part", "part", tuple(f"b/{who}/l" for who in second))]


def partitions_that_one_straddles_jointly():
    """Phase and range: each part has five people, and all but one have late readings only when low."""
    crossed = {who: ["eh", "ll"] for who in PEOPLE[:9]} | {"p00": ["eh", "ll", "lh"]}
    return cut({"a": crossed}, ["el", "hl"])


def block_bundled_twice():
    """A block is in two bundles: the difference of their parts is the part of another block, which holds two."""
    second = {who: ["m", "l"] for who in PEOPLE[6:14]}
    first = {who: ["m", "l"] if n < 2 else ["m"] for n, who in enumerate(PEOPLE[:6])}
    rows = cut({"a": first, "b": second}, ["ml"])
    again = cut({"b": second}, ["ml"])
    return [*rows, *(replace(row, record=f"again {row.record}") for row in again if row.kind == "part")]


PLANTS: list[Callable[[], Rows]] = [
    counted_records,
    edited_in_place,
    appended_to_an_open_block,
    replaced_by_a_newcomer,
    survivors_packed_again,
    survivors_count_as_fresh,
    fresh_for_each_table,
    two_groups_and_everyone,
    overlapping_groups,
    part_that_leaves_one,
    part_without_fresh_people,
    two_partitions_at_once,
    tie_edited_in_place,
    ties_appended_one_by_one,
    nearly_all_wear_both,
    bundle_formed_again_from_survivors,
    names_nobody,
    one_too_few,
    two_bodies_of_one_account,
    another_number_than_was_seated,
    nine_people_where_ten_were_promised,
    six_between_two_sums_for_ten,
    four_behind_three_sums,
    two_behind_blocks_who_are_in_a_tie,
    tie_with_two_outside,
    tie_that_four_straddle,
    tie_joined_by_a_latecomer,
    part_that_four_straddle,
    part_of_one_block_in_a_bundle,
    partitions_that_one_straddles_jointly,
    block_bundled_twice,
]


def verdict_on(rows: Rows) -> Verdict:
    return audit(rows, owners(*rows), k=K)


def main() -> None:
    refused = [not verdict_on(plant()).passed for plant in PLANTS]
    for plant, seen in zip(PLANTS, refused, strict=True):
        print(f"{'refused' if seen else 'PASSED '}  {plant.__name__.replace('_', ' ')}")  # noqa: T201
    print(f"{sum(refused)} of {len(PLANTS)} refused")  # noqa: T201


if __name__ == "__main__":
    main()
