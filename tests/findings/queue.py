"""A queue of mixed wears: how many planted faults stand out by findings alone, and how many good wears do."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pooling.checks import SEVERITY_OF
from pooling.checks.misfit import points
from tests.findings.plants import IN_RECORDS
from tests.findings.study import FACTS, FEWEST_PAIRS_PLANTED, Record, codes_of_record, good_records

N_WEARS, N_PLANTED = 40, 10
COMMUNITY = 4 * N_WEARS


@dataclass(frozen=True, slots=True)
class Queue:
    """Of ten planted faults, how many were found and stood among the first ten; of thirty good wears, how many did not
    pass; and which kinds of fault were missed."""

    n_found: int
    n_at_the_top: int
    n_false: int
    missed: tuple[str, ...]


def mixed(rng: np.random.Generator, community: Sequence[Record]) -> tuple[list[Record], dict[str, Record]]:
    """Thirty wears of an invented community as they are, and ten with a fault each, of ten kinds."""
    wears = [community[at] for at in rng.permutation(len(community))]
    whole = [wear for wear in wears[N_WEARS:] if len(wear["pairs"]) >= FEWEST_PAIRS_PLANTED]
    kinds = rng.permutation(sorted(IN_RECORDS))[:N_PLANTED].tolist()
    planted: dict[str, Record] = {}
    for kind in kinds:
        changed = None
        while changed is None:  # not every wear can have every fault
            changed = IN_RECORDS[kind][2](rng, whole.pop())
        planted[kind] = changed
    return wears[: N_WEARS - N_PLANTED], planted


def queue(rng: np.random.Generator, community: Sequence[Record]) -> Queue:
    """Such a queue, and what findings alone say of it."""
    fine, planted = mixed(rng, community)
    weights = {kind: weight_of(record) for kind, record in planted.items()}
    good = [weight_of(record) for record in fine]
    tenth = sorted([*weights.values(), *good], reverse=True)[N_PLANTED - 1]
    return Queue(
        n_found=sum(weight > 0 for weight in weights.values()),
        n_at_the_top=sum(weight > 0 and weight >= tenth for weight in weights.values()),
        n_false=sum(weight > 0 for weight in good),
        missed=tuple(kind for kind, weight in weights.items() if not weight),
    )


def weight_of(record: Record) -> int:
    """How much a wear needs a look, but for what states facts of good wears too."""
    return points([(code, SEVERITY_OF[code]) for code in codes_of_record(record) if code not in FACTS])


def queues(rng: np.random.Generator, n_queues: int) -> str:
    """Many queues as the table of docs/METHODS.md."""
    drawn = [queue(rng, good_records(rng, COMMUNITY)) for _ in range(n_queues)]
    lines = ["| of a queue of 40 | mean | worst |", "| --- | --- | --- |"]
    for words, numbers, worst in (
        ("faults found, of 10", [one.n_found for one in drawn], min),
        ("faults among the first ten", [one.n_at_the_top for one in drawn], min),
        ("good wears with a finding, of 30", [one.n_false for one in drawn], max),
    ):
        lines.append(f"| {words} | {np.mean(numbers):.1f} | {worst(numbers)} |")
    enough = np.mean([one.n_found >= 9 and one.n_false <= 2 for one in drawn])
    lines.append(f"| 9 or more found and 2 or fewer false, % of queues | {100 * enough:.0f} | |")
    return "\n".join(lines)
