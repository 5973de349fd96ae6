"""What the audit of everything ever sealed costs: blocks, ties and parts as a careful ledger makes them."""

import time
from math import log

import numpy as np

from pooling.audit import AuditRow, audit
from tests.bench.runner import bench, ratio
from tests.pooling.audit.worlds import World

K = 5
# A family of five cells has 70 wears or so in each edition.
SIZES = {1_000: (5, 3), 10_000: (16, 9), 100_000: (70, 20)}


def _history(n_families: int, n_editions: int) -> tuple[list[AuditRow], dict[str, str]]:
    world = World(n_people=1_000, n_cells=5 * n_families, n_editions=n_editions)
    return world.rows(np.random.default_rng(1))


def _seconds(n_families: int, n_editions: int) -> tuple[int, float]:
    """Wears, and seconds of computation."""
    rows, person_of = _history(n_families, n_editions)
    n_wears = len({atom.split("/")[0] for atom in person_of})
    start = time.process_time()
    assert audit(rows, person_of, K).passed
    return n_wears, time.process_time() - start


@bench("audit of 1,000, 10,000 and 100,000 wears: the power of the number that its time grows with", bound=1.25)
def growth_of_the_audit() -> float:
    """Slope of least squares through the logarithms."""
    points = [_seconds(*size) for size in SIZES.values()]
    wears, seconds = ([log(value) for value in values] for values in zip(*points, strict=True))
    return float(np.polyfit(wears, seconds, 1)[0])


@bench("audit of 50 cells, 1,000 people and 20 editions: one singular value decomposition of 1,000 x 1,000", bound=40.0)
def audit_of_a_tenth() -> float:
    """A tenth of 500 cells, which hang together by families and so take ten times as long."""
    rows, person_of = _history(10, 20)
    square = np.random.default_rng(2).normal(size=(1_000, 1_000))
    return ratio(lambda: audit(rows, person_of, K), lambda: np.linalg.svd(square), rounds=2)


@bench("audit after one more edition, the others known: audit of all", bound=0.6)
def audit_of_what_is_new() -> float:
    rows, person_of = _history(5, 20)
    last = {row.record for row in rows if row.record[1:].split(".")[0] in ("18", "19")}
    known = audit([row for row in rows if row.record not in last], person_of, K).components
    return ratio(lambda: audit(rows, person_of, K, known=known), lambda: audit(rows, person_of, K), rounds=3)
