"""Goal C: in no history does any combination of everything ever sealed speak of fewer than k people.

Small communities in which people come, share with groups, wear several cells at once and leave; every set of fewer than
k people is tried against all blocks and all ties of all slots, with equal weights and with weights of a few sizes.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np

from pooling.ledger import PlannedTie, plan, plan_lots, plan_parts, ties
from tests.redteam.algebra import Told, total
from tests.redteam.ledgers import NEVER, Given, Ledger, drawn_weights, ours, owners_of, slot_key
from tests.redteam.parts import (
    PlanLots,
    PlanParts,
    crossings,
    drawn_by_lot,
    k_on_each_side,
    none_or_k,
    sides,
    split,
)
from tests.redteam.registry import Effort, Goal, Line

SITES = ("upper_arm.back", "upper_arm.outer", "calf")
N_SLOTS = 8


def run(effort: Effort) -> Iterator[Line]:
    for k in (3, 4):
        n_histories = effort.pick(1000, 24)
        found = [_attacked(effort.seed, number, k) for number in range(n_histories)]
        naive = [_packed_anew(effort.seed, number, k) for number in range(effort.pick(200, 8))]
        tied = [_tied_by_cuts(effort.seed, number, k) for number in range(effort.pick(200, 24))]
        n_ties = sum(len(ledger.ties) for ledger, _ in found)
        n_blocks = sum(len(ledger.blocks) for ledger, _ in found)
        n_broken = sum(broken for _, broken in found)
        yield Line(
            f"k = {k}: {n_histories:,} histories, {n_blocks:,} blocks, {n_ties:,} ties",
            f"{sum(naive)} of {len(naive)}; ties {sum(tied)} of {len(tied)}",
            f"{n_broken} broken",
            n_broken == 0 and sum(naive) > len(naive) // 2 and any(tied) and n_ties > n_histories // 20,
        )
        yield _in_parts(effort, k)
        yield _by_lot(effort, k)


def _in_parts(effort: Effort, k: int) -> Line:
    """With the sums of parts, whose blocks and ties are the same."""
    n_histories, n_naive = effort.pick(1000, 12), effort.pick(100, 8)
    found = [_split(effort.seed, number, k) for number in range(n_histories)]
    naive = [_split(effort.seed, number, k, none_or_k)[1] for number in range(n_naive)]
    n_parts, n_broken = sum(n for n, _ in found), sum(broken for _, broken in found)
    return Line(
        f"k = {k}: {n_histories:,} histories, {n_parts:,} parts of blocks",
        f"{sum(naive)} of {n_naive}",
        f"{n_broken} broken",
        n_broken == 0 and any(naive) and n_parts > n_histories,
    )


def _split(seed: int, number: int, k: int, planner: PlanParts = plan_parts) -> tuple[int, bool]:
    rng = np.random.default_rng([seed, number, k, 7])
    ledger = ours(history(seed, number), n_slots=N_SLOTS, k=k, seed=number)
    pairs_in = crossings(rng, ledger)
    n_parts = 0
    for kinds in (1, 3):
        weights = {"u": drawn_weights(rng, kinds), "w": drawn_weights(rng, kinds)}
        sums, owner, n_parts = split(ledger, pairs_in, k, planner=planner, **weights)
        if Told(sums, owner).isolated(k - 1):
            return n_parts, True
    return n_parts, False


def _by_lot(effort: Effort, k: int) -> Line:
    """With the sums of wears by lot and of chosen ones as well."""
    n_histories, n_naive = effort.pick(400, 24), effort.pick(200, 24)
    found = [_sided(effort.seed, number, k) for number in range(n_histories)]
    naive = [_sided(effort.seed, number, k, k_on_each_side)[1] for number in range(n_naive)]
    n_sides, n_broken = sum(n for n, _ in found), sum(broken for _, broken in found)
    return Line(
        f"k = {k}: {n_histories:,} histories, with parts and {n_sides:,} sides by lot or chosen",
        f"{sum(naive)} of {n_naive}",
        f"{n_broken} broken",
        n_broken == 0 and any(naive) and n_sides > n_histories // 5,
    )


def _sided(seed: int, number: int, k: int, planner: PlanLots = plan_lots) -> tuple[int, bool]:
    rng = np.random.default_rng([seed, number, k, 8])
    ledger = ours(_crowd(seed, number, rng.uniform(0.1, 0.9)), n_slots=N_SLOTS, k=k, seed=number)
    pairs_in, by_lot = crossings(rng, ledger), drawn_by_lot(rng, ledger)
    n_sides = 0
    for kinds in (1, 3):
        u, w = drawn_weights(rng, kinds), drawn_weights(rng, kinds)
        sums, owner, _ = split(ledger, pairs_in, k, u=u, w=w)
        of_sides = list(sides(ledger, pairs_in, by_lot, k, u=u, planner=planner))
        n_sides = len(of_sides)
        if Told([*sums, *of_sides], owner).isolated(k - 1):
            return n_sides, True
    return n_sides, False


def _crowd(seed: int, number: int, busy: float) -> list[Given]:
    """Two histories in one group with one sensor model: enough meet by lot and by choice, and some of them are tied."""
    together = {"group": "g0", "feeds_everyone": True, "sensor_model": "model-0"}
    return [
        replace(
            one, wear=f"{half}.{one.wear}", person=f"{half}.{one.person}", wearer=f"{half}.{one.person}", **together
        )
        for half in (0, 1)
        for one in history(seed, 2 * number + half, busy=busy)
    ]


def history(seed: int, number: int, *, busy: float | None = None) -> list[Given]:
    """One to three groups of up to 14 people, of whom some wear several sites at once; some leave, some feed nobody."""
    rng = np.random.default_rng([seed, number])
    given: list[Given] = []
    n_groups = int(rng.integers(1, 4))
    busy = rng.uniform(0.3, 0.8) if busy is None else busy
    for group in range(n_groups):
        feeds = bool(rng.random() < 0.7)
        for member in range(int(rng.integers(4, 30 // (n_groups + 1)))):
            person = f"g{group}p{member}"
            since = int(rng.choice([1, 1, 1, 1, 1, rng.integers(1, N_SLOTS)]))
            gone = int(rng.integers(2, N_SLOTS + 1)) if rng.random() < 0.35 else NEVER
            favourites = rng.permutation(SITES)[: 1 + int(rng.random() < busy) + int(rng.random() < busy / 2)]
            for site in favourites.tolist():
                for again in range(int(rng.integers(1, 4))):
                    slot = since if again == 0 else min(N_SLOTS, since + int(rng.integers(4)))
                    model = "model-1" if rng.random() < 0.2 else "model-0"
                    name = f"{person}.{site}.{again}"
                    given.append(Given(name, person, person, f"g{group}", feeds, site, model, slot, gone))
    return given


def _attacked(seed: int, number: int, k: int) -> tuple[Ledger, bool]:
    ledger = ours(history(seed, number), n_slots=N_SLOTS, k=k, seed=number)
    return ledger, is_broken(ledger, k, np.random.default_rng([seed, number, k]))


def is_broken(ledger: Ledger, k: int, rng: np.random.Generator) -> bool:
    """Whether anybody is isolated by sums of equal weights, of weights of two sizes, or of weights all their own."""
    plain = Told(ledger.sums(), ledger.owner).isolated(k - 1)
    if plain or not ledger.ties:
        return bool(plain)
    return any(
        Told(ledger.sums(drawn_weights(rng, kinds), drawn_weights(rng, kinds)), ledger.owner).isolated(k - 1)
        for kinds in (2, 1000)
    )


def _packed_anew(seed: int, number: int, k: int) -> bool:
    """At every slot all wears still given are packed anew, k people a block, fresh or not."""
    given, sums = history(seed, number), []
    for slot in range(1, N_SLOTS + 1):
        queue = [one.waiting(slot) for one in given if one.slot <= slot < one.gone_from]
        blocks = plan(queue, slot_key=slot_key(number, slot), k_of=lambda _: k).blocks
        sums += [total(block.wears) for block in blocks]
    return bool(Told(sums, owners_of(given)).isolated(k - 1))


def _tied_by_cuts(seed: int, number: int, k: int) -> bool:
    """Everybody at two cells links, and nobody looks at what the sums of the cells add to it."""
    given = [replace(one, slot=1) for one in history(seed, number, busy=1.0)]
    unsearched: Callable[..., tuple[PlannedTie, ...]] = without_search
    ledger = ours(given, n_slots=1, k=k, seed=number)
    tied = Ledger(ledger.given, ledger.blocks)
    for scope in sorted({block.cell.scope for block in ledger.blocks}):
        cells_of: dict[str, set[object]] = {}
        for block in ledger.blocks:
            for wear in block.wears if block.cell.scope == scope else ():
                cells_of.setdefault(ledger.given[wear].wearer, set()).add(block.cell)
        tied.ties += [(1, tie) for tie in unsearched(cells_of, k)]
    return bool(Told(tied.sums(), tied.owner).isolated(k - 1))


def without_search(cells_of, k):  # type: ignore[no-untyped-def]
    """The plan most would write: the rule of cuts alone."""
    found, ties.uncovered = ties.uncovered, lambda *_: None
    try:
        return ties.plan_ties(cells_of, k)
    finally:
        ties.uncovered = found


GOAL = Goal(
    "C", "No combination of everything ever sealed speaks of fewer than k people, whoever comes or leaves.", run
)
