"""Which blocks of one cut-off may also be summed by how the site was picked: drawn by lot, or chosen."""

from collections.abc import Collection, Mapping, Sequence
from typing import Any

Picked = tuple[str, str, bool]
"""Of a wear: the account, the wearer, and whether its site was drawn by lot."""


def plan_lots(
    blocks: Mapping[Any, Sequence[Picked]], k: int, *, linkers: Collection[str] = frozenset()
) -> tuple[Any, ...]:
    """Choose the cells whose wears by lot and chosen wears may be summed apart.

    Claim: let any real numbers multiply the sums of both sides of these cells, and whatever keeps the promises of
    `plan_ties` and `plan_parts` with the sums of the cells. If the result depends on anybody, it depends on at least k
    people.

    Assumptions: a side adds up its wears with the weights that the wear's block gives them, so that the two sides of a
    cell add up to the block; all wears of the block take part, in the commit that seals it.

    Proof. A pair in the crossing j of a wear on side s of cell c enters with its weight in the block times (a + h(j) +
    g(c, s)) plus whatever a tie adds, where g are the multipliers of sides. If some partition has parts with different
    multipliers h, the people who straddle it within a wear are left, as in `plan_parts`: s is the same for all pairs of
    a wear. Otherwise h is one number for a wear, and may be counted to a. If the multipliers of both sides are the same
    in every cell, sides add nothing but multiples of the blocks' sums. If they differ in c, then a + g(c, s) is 0 on
    one side at most. Whoever links nothing and has a wear on the other side is left; and so is whoever has wears on
    both, linking or not, because what a tie adds to a wearer's wears at one cell is one number times their weights.
    These are at least k people for either side.

    Parameters
    ----------
    blocks : mapping from cell to wears
    k : int
        Smallest number of people.
    linkers : collection of str
        Wearers who link cells in a tie of this cut-off.

    Returns
    -------
    tuple
        Cells, in the order of the mapping.

    Notes
    -----
    That k people are on each side is not enough: where most of them link, a tie may take their values off again.

    Examples
    --------
    >>> wears = [(f"a{i}", f"p{i}", i < 5) for i in range(10)]
    >>> plan_lots({"calf": wears, "chest": wears[1:]}, 5)
    ('calf',)
    >>> plan_lots({"calf": wears}, 5, linkers=["p0"])
    ()
    """
    return tuple(cell for cell, wears in blocks.items() if _n_left(wears, frozenset(linkers)) >= k)


def _n_left(wears: Sequence[Picked], linkers: Collection[str]) -> int:
    """People who are left whatever the multipliers, at least: the fewer of the two sides."""
    sides_of: dict[str, set[bool]] = {}
    for _, wearer, by_lot in wears:
        sides_of.setdefault(wearer, set()).add(by_lot)
    return min(
        len({account for account, wearer, _ in wears if _is_left(sides_of[wearer], side, wearer in linkers)})
        for side in (False, True)
    )


def _is_left(sides: Collection[bool], side: bool, links: bool) -> bool:
    return len(sides) > 1 or (side in sides and not links)
