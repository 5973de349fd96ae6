"""Goal M: the auditor refuses what a ledger with one rule missing seals.

Each fault is planted in the planner's text, or in what is done around it from slot to slot, and lives through random
histories. Wherever exact arithmetic finds that fewer than k people can be isolated, the auditor must refuse. The
auditor's own planted faults are tried too. A naive build is an audit that only counts the people of each sum.
"""

import sys
import types
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from pooling.audit import AuditRow, audit
from pooling.ledger import EVERYONE, PlannedTie, plan, plan_ties
from tests.pooling.audit.faults import PLANTS
from tests.pooling.audit.faults import verdict_on as verdict_on_plant
from tests.redteam.algebra import Sum, Told, total
from tests.redteam.goal_c import N_SLOTS, history, without_search
from tests.redteam.ledgers import NEVER, Given, Ledger, ours, owners_of, slot_key
from tests.redteam.registry import Effort, Goal, Line

K = 3
LEAST_REFUSED = 11
PLANNER, TIES = "pooling.ledger.plan", "pooling.ledger.ties"
FIRST_LINE = '"""Who may enter the pool together, when, and how coarsely described.'

Sealed = tuple[list[Sum], dict[str, str]]


@dataclass(frozen=True)
class Fault:
    name: str
    seal: Callable[[int, int], Sealed]


def run(effort: Effort) -> Iterator[Line]:
    n_histories = effort.pick(40, 8)
    n_refused, missed, by_counting = 0, [], 0
    for fault in FAULTS:
        sealed = [fault.seal(effort.seed, number) for number in range(n_histories)]
        broken = [found for found in sealed if _is_broken(*found)]
        seen = [found for found in broken if not _passes(*found)]
        n_refused += bool(broken) and len(seen) == len(broken)
        missed += [] if broken and len(seen) == len(broken) else [f"{fault.name} ({len(seen)} of {len(broken)})"]
        by_counting += bool(broken) and all(_has_thin_row(*found) for found in broken)
    yield Line(
        f"{len(FAULTS)} faults in the ledger, {n_histories} histories each",
        f"{by_counting} refused",
        f"{n_refused} refused" + "".join(f"; not {name}" for name in missed),
        n_refused >= LEAST_REFUSED > by_counting,
    )
    n_seen = sum(not verdict_on_plant(plant()).passed for plant in PLANTS)
    yield Line(f"{len(PLANTS)} faults planted in sums", "-", f"{n_seen} refused", n_seen == len(PLANTS))
    clean = [_sound(effort.seed, number) for number in range(n_histories)]
    n_passed = sum(_passes(*found) for found in clean)
    yield Line(
        f"sound histories that pass ({n_histories})", "-", f"{n_passed} of {n_histories}", n_passed == n_histories
    )


def _is_broken(sums: list[Sum], owner: dict[str, str]) -> bool:
    return bool(Told(sums, owner).isolated(K - 1))


def _passes(sums: list[Sum], owner: dict[str, str]) -> bool:
    rows = [
        AuditRow(str(number), "sum", tuple(held), tuple(map(float, held.values()))) for number, held in enumerate(sums)
    ]
    return audit(rows, owner, k=K).passed


def _has_thin_row(sums: list[Sum], owner: dict[str, str]) -> bool:
    return any(len({owner[atom] for atom in held}) < K for held in sums)


# Faults in the planner's text


def _changed(name: str, old: str, new: str) -> Any:
    """A module of the planner in which a piece of the text was replaced."""
    module = sys.modules[name]
    text = Path(str(module.__file__)).read_text(encoding="utf-8")
    assert text.count(old) == 1, f"the piece to replace stands {text.count(old)} times in {name}"
    changed = types.ModuleType(name)
    exec(compile(text.replace(old, new), str(module.__file__), "exec"), changed.__dict__)
    return changed


def _planner_with(old: str, new: str, of: Callable[[Ledger], Sealed] | None = None) -> Callable[[int, int], Sealed]:
    changed = _changed(PLANNER, old, new)
    return lambda seed, number: (of or _of)(
        ours(history(seed, number), n_slots=N_SLOTS, k=K, seed=number, planner=changed.plan)
    )


def _ties_with(old: str, new: str) -> Callable[[int, int], Sealed]:
    changed = _changed(TIES, old, new)
    return lambda seed, number: _of(_tied(seed, number, changed.plan_ties))


def _tied(seed: int, number: int, plan_ties: Callable[..., Any]) -> Ledger:
    """All wears in one slot, their cells linked by another rule."""
    planner = _changed(PLANNER, FIRST_LINE, FIRST_LINE)
    planner.plan_ties = plan_ties
    return ours(_busy(seed, number), n_slots=1, k=K, seed=number, planner=planner.plan)


def _busy(seed: int, number: int) -> list[Given]:
    return [replace(one, slot=1, gone_from=NEVER) for one in history(seed, number, busy=0.8)]


def _of(ledger: Ledger) -> Sealed:
    return ledger.sums(), ledger.owner


def _of_wears(ledger: Ledger) -> Sealed:
    """Blocks by the wears in them, where one wear may be in several."""
    return [total(block.wears) for block in ledger.blocks], owners_of(ledger.given.values())


# Faults around the planner


def _sound(seed: int, number: int) -> Sealed:
    return _of(ours(history(seed, number), n_slots=N_SLOTS, k=K, seed=number))


def _by_wear(seed: int, number: int) -> tuple[list[Given], Ledger, list[Sum], dict[str, str]]:
    given = history(seed, number)
    ledger = ours(given, n_slots=N_SLOTS, k=K, seed=number)
    return given, ledger, [total(block.wears) for block in ledger.blocks], owners_of(given)


def _planned(given: Sequence[Given], slot: int, number: int) -> list[Any]:
    queue = [one.waiting(slot) for one in given if one.slot <= slot < one.gone_from]
    return list(plan(queue, slot_key=slot_key(number, slot), k_of=lambda _: K).blocks)


def packed_anew(seed: int, number: int) -> Sealed:
    """Survivors count as fresh: whoever is still there is packed again at every slot."""
    given = history(seed, number)
    sums = [total(block.wears) for slot in range(1, N_SLOTS + 1) for block in _planned(given, slot, number)]
    return sums, owners_of(given)


def fresh_for_each_table(seed: int, number: int) -> Sealed:
    """Two tables, each with a ledger of its own over the same wears: by group, and of everyone."""
    given, _, sums, owner = _by_wear(seed, number)
    pooled = ours(
        [replace(one, group=EVERYONE, feeds_everyone=True) for one in given],
        n_slots=N_SLOTS,
        k=K,
        seed=number,
    )
    return [*sums, *(total(block.wears) for block in pooled.blocks)], owner


def group_key_dropped(seed: int, number: int) -> Sealed:
    """A group's table counts all wears at the place, those that were counted in everyone's too."""
    given, ledger, sums, owner = _by_wear(seed, number)
    for block in ledger.blocks:
        if block.cell.scope == EVERYONE:
            for group in sorted({ledger.given[wear].group for wear in block.wears}):
                own = [
                    one.wear
                    for one in given
                    if one.group == group and block.cell.could_hold(one.site, one.sensor_model)
                ]
                sums += [total(own)] if len({owner[wear] for wear in own}) >= K else []
    return sums, owner


def record_appended(seed: int, number: int) -> Sealed:
    """A newcomer of the same cell is added to a block that is open already."""
    given, ledger, sums, owner = _by_wear(seed, number)
    counted = {wear for block in ledger.blocks for wear in block.wears}
    for block, held in list(zip(ledger.blocks, sums, strict=True)):
        late = [o.wear for o in given if o.wear not in counted and block.cell.could_hold(o.site, o.sensor_model)]
        sums += [total([*held, late[0]])] if late else []
    return sums, owner


def excluded_in_place(seed: int, number: int) -> Sealed:
    """A moderator takes one wear out of a block, and the block stays open."""
    _, _, sums, owner = _by_wear(seed, number)
    rng = np.random.default_rng([seed, number])
    held = sorted(sums[int(rng.integers(len(sums)))]) if sums else []
    return [*sums, total(held[1:])], owner


def leaver_taken_out(seed: int, number: int) -> Sealed:
    """Whoever leaves is subtracted from every sum that is open."""
    _, ledger, sums, owner = _by_wear(seed, number)
    gone = {wear for wear, one in ledger.given.items() if one.gone_from < NEVER}
    left = [total([wear for wear in held if wear not in gone]) for held in sums if gone & set(held)]
    return [*sums, *(held for held in left if held)], owner


def tie_of_whoever_comes(seed: int, number: int) -> Sealed:
    """A tie is sealed again whenever one linker more has come."""
    ledger = _tied(seed, number, plan_ties)
    for slot, tie in list(ledger.ties):
        ledger.ties.append((slot, PlannedTie(tie.cells, tie.linkers[:-1])))
    return _of(ledger)


def tie_without_search(seed: int, number: int) -> Sealed:
    """Nearly all wear both, and nobody looks at what the sums of the cells add."""
    return _of(_tied(seed, number, without_search))


FAULTS = (
    Fault(
        "counts records instead of people", _planner_with("if len(people) >= thresholds", "if len(pool) >= thresholds")
    ),
    Fault("one too few", _planner_with("if len(people) >= thresholds", "if len(people) + 1 >= thresholds")),
    Fault(
        "a wear at every level",
        _planner_with("left = [wear for wear in left if wear.wear not in placed]", "pass", _of_wears),
    ),
    Fault("survivors are fresh", packed_anew),
    Fault("fresh for each table", fresh_for_each_table),
    Fault("group key dropped", group_key_dropped),
    Fault("record appended to an open block", record_appended),
    Fault("excluded in place", excluded_in_place),
    Fault("leaver taken out", leaver_taken_out),
    Fault("tie edited in place", tie_of_whoever_comes),
    Fault("ties without the search", tie_without_search),
    Fault("a tie straddled by one too few", _ties_with("if straddling >= k:", "if straddling >= 1:")),
)

GOAL = Goal("M", "The auditor refuses what a ledger with one rule missing has sealed.", run)
