"""One pool from its draw to rows that can be scored; many of them side by side, continued where they stopped."""

import json
import multiprocessing
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from time import process_time
from typing import Any
from unittest.mock import patch

import numpy as np

from pooling.errors import TooFewPeople
from pooling.hierarchy import Estimate, FitRules, PooledFit, combination, fit
from pooling.protection import Published, publish_difference, publish_estimate
from pooling.sealing import SEAL_VERSION_1
from tests.calibration.packing import UNMASKED, K, pack, site_of
from tests.calibration.pools import Floats, Pool
from tests.calibration.scenarios import SCENARIOS, Drawn
from tests.calibration.worlds import person_mards
from tests.referee.individual import Wears, fit_individual

RULES = FitRules(versions={version.number: version for version in (SEAL_VERSION_1, UNMASKED)})
RATES = {"15/15": ("within_15_15_pct", "k15"), "20/20": ("within_20_20_pct", "k20")}


@dataclass(frozen=True)
class Ends(Estimate):
    """An estimate that also keeps the limits of its 80 % interval."""

    inner: tuple[float, float]

    @classmethod
    def of(cls, draws: Floats) -> "Ends":
        """Summarise draws."""
        lower, low, median, high, upper = np.quantile(draws, (0.025, 0.1, 0.5, 0.9, 0.975)).tolist()
        return cls(median, lower, upper, (low, high))


@contextmanager
def keeping_inner_limits() -> Iterator[None]:
    """Have `combine` summarise draws with their 80 % limits too; the numbers that it publishes stay the same."""
    with patch.object(combination, "Estimate", Ends):
        yield


@dataclass(frozen=True)
class Job:
    """One pool to run. With `referee` the individual fit and the fit of unmasked sums see the same pool."""

    scenario: str
    seed: int
    index: int
    cut_offs: int
    referee: bool

    @property
    def name(self) -> tuple[Any, ...]:
        """What tells pools apart; the referee changes nothing in what it is asked about."""
        return (self.scenario, self.seed, self.index, self.cut_offs)

    @classmethod
    def of(cls, pool: Mapping[str, Any]) -> "Job":
        """The job that a pool came from."""
        return cls(*(pool[key] for key in cls.__match_args__))


@dataclass(frozen=True)
class _Fitted:
    """Medians of other fits of the same pool, by cell (points)."""

    referee: Mapping[int, float]
    sums_alone: Mapping[int, float]


def run_one(job: Job) -> dict[str, Any]:
    """Draw, seal, fit and score one pool.

    Rows hold, per figure and cell or pair: people, truth, plain mean, median, limits (95 and 80 %), printed limits (95
    and 80 %), and the medians of the individual fit and of sums without masking, where these were asked for.
    """
    started = process_time()
    scenario = SCENARIOS[job.scenario]
    rng = np.random.default_rng([job.seed, job.index, sorted(SCENARIOS).index(job.scenario)])
    drawn = scenario.draw(rng)
    try:
        rows = _rows(job, drawn, rng)
    except TooFewPeople:
        # Nothing was sealed: there is no edition, and nothing in it that could be wrong.
        rows = []
    about = {"scenario": job.scenario, "seed": job.seed, "index": job.index, "cut_offs": job.cut_offs}
    return about | {"referee": job.referee, "ms": round(1000 * (process_time() - started)), "rows": rows}


def _rows(job: Job, drawn: Drawn, rng: np.random.Generator) -> list[list[Any]]:
    with keeping_inner_limits():
        found = fit(pack(drawn.pool, rng, cut_offs=job.cut_offs), RULES, rng)
        other = _others(drawn.pool, rng) if job.referee else _Fitted({}, {})
    return [*_site_rows(found, drawn, other), *_contrast_rows(found, drawn, other), *_people_rows(found, drawn)]


def _others(pool: Pool, rng: np.random.Generator) -> _Fitted:
    sums = fit(pack(pool, rng, cut_offs=1, version=UNMASKED), RULES, rng)
    cells = sorted({wear.cell for wear in pool.wears})
    referee = 100 * np.median(fit_individual(Wears.of(pool.wears, cells), rng).mard, axis=0)
    return _Fitted(
        dict(zip(cells, referee.tolist(), strict=True)),
        {cell: row.mard_pct.median for cell, row in _sites(sums, pool).items()},
    )


def _sites(found: PooledFit, pool: Pool) -> dict[int, Any]:
    cells = {site_of(cell): cell for cell in range(len(pool.truth.location))}
    return {cells[row.place]: row for row in found.sites if row.place in cells}


def _row(
    figure: str,
    n_people: int,
    truth: float,
    plain: float,
    estimate: Ends,
    printed: Sequence[Published],
    others: Iterable[float | None] = (None, None),
) -> list[Any]:
    limits = [estimate.lower, estimate.upper, *estimate.inner]
    shown = [float(end) for figure_of in printed for end in (figure_of.lower, figure_of.upper)]
    values = [truth, plain, estimate.median, *limits, *(shown or [None] * 4), *others]
    return [figure, n_people, *(None if value is None else round(value, 5) for value in values)]


def _printed(estimate: Ends, n_people: int | tuple[int, int]) -> list[Published]:
    """The interval as an edition prints it, and the 80 % interval as it would."""
    inner = Estimate(estimate.median, *estimate.inner)
    publish = publish_difference if isinstance(n_people, tuple) else publish_estimate
    return [publish(one, n_people=n_people, k=K) for one in (estimate, inner)]


def _site_rows(found: PooledFit, drawn: Drawn, other: _Fitted) -> Iterator[list[Any]]:
    pool = drawn.pool
    for cell, row in _sites(found, pool).items():
        plain, people = plain_mean(pool, cell), row.n_people
        figures = [name for name in ("site MARD", "in truth") if name in drawn.truth]
        for name in figures:
            beside = (other.referee.get(cell), other.sums_alone.get(cell)) if name == "site MARD" else (None, None)
            truth = float(drawn.truth[name][cell])
            yield _row(name, people, truth, plain, row.mard_pct, _printed(row.mard_pct, people), beside)
        for name, (field, count) in RATES.items():
            if name in drawn.truth:
                simple = _plain_rate(pool, cell, count)
                yield _row(name, people, float(drawn.truth[name][cell]), simple, getattr(row, field), ())


def _contrast_rows(found: PooledFit, drawn: Drawn, other: _Fitted) -> Iterator[list[Any]]:
    sites = _sites(found, drawn.pool)
    plain = {cell: plain_mean(drawn.pool, cell) for cell in sites}
    said = {(c.a[0], c.b[0]): c.difference_mard_points for c in found.contrasts if c.kind == "sites"}
    truth, ends = drawn.truth["site MARD"], (0, len(drawn.truth["site MARD"]) - 1)
    for a, b in combinations(sorted(sites), 2):
        names = site_of(a), site_of(b)
        estimate = said[names] if names in said else _turned(said[names[::-1]])
        people = sites[a].n_people, sites[b].n_people
        beside = [
            medians[a] - medians[b] if a in medians and b in medians else None
            for medians in (other.referee, other.sums_alone)
        ]
        row = _row(
            "contrast",
            min(people),
            float(truth[a] - truth[b]),
            plain[a] - plain[b],
            estimate,
            _printed(estimate, people),
            beside,
        )
        yield row
        if (a, b) == ends:
            yield ["extreme contrast", *row[1:]]


def _turned(estimate: Ends) -> Ends:
    low, high = estimate.inner
    return Ends(-estimate.median, -estimate.upper, -estimate.lower, (-high, -low))


def _people_rows(found: PooledFit, drawn: Drawn) -> Iterator[list[Any]]:
    """Share of people above the lower and below the upper end of "80 of 100 people": nine in ten each, if right."""
    if "people low" not in drawn.truth:
        return
    each = 100 * person_mards(drawn.pool.truth)
    for cell, row in _sites(found, drawn.pool).items():
        low, high = row.people_range_pct
        yield ["people above low end", row.n_people, round(float((each[cell] >= low).mean()), 4)]
        yield ["people below high end", row.n_people, round(float((each[cell] <= high).mean()), 4)]


def plain_mean(pool: Pool, cell: int) -> float:
    """Pooled mean of all readings at the cell: what a table without a model says."""
    strata = [wear.stratum for wear in pool.wears if wear.cell == cell]
    return 100 * sum(s.a1 for s in strata) / sum(s.n_pairs for s in strata)


def _plain_rate(pool: Pool, cell: int, count: str) -> float:
    strata = [wear.stratum for wear in pool.wears if wear.cell == cell]
    return 100 * sum(getattr(s, count) for s in strata) / sum(s.n_pairs for s in strata)


def read(path: Path) -> list[dict[str, Any]]:
    """Pools that a file holds; a last line that was cut off is left out."""
    found = []
    for line in path.read_text("utf-8").splitlines() if path.exists() else ():
        try:
            found.append(json.loads(line))
        except json.JSONDecodeError:
            continue
    return found


def run_many(jobs: Sequence[Job], *, processes: int, path: Path | None) -> list[dict[str, Any]]:
    """Run what a file does not hold yet, writing each pool as one line when it is done; return all of them."""
    done = {Job.of(pool).name: pool for pool in (read(path) if path else ())}
    todo = [job for job in jobs if job.name not in done or job.referee > done[job.name]["referee"]]
    for pool in _finished(todo, processes):
        done[Job.of(pool).name] = pool
        if path:
            with path.open("a", encoding="utf-8") as lines:
                lines.write(json.dumps(pool, separators=(",", ":")) + "\n")
    return [done[job.name] for job in jobs]


def _finished(jobs: Sequence[Job], processes: int) -> Iterator[dict[str, Any]]:
    if processes == 1 or len(jobs) < 2:
        yield from map(run_one, jobs)
        return
    with multiprocessing.get_context("spawn").Pool(processes) as workers:
        yield from workers.imap_unordered(run_one, jobs)
