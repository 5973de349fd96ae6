"""How often the published intervals hold the truth: ``python -m tests.calibration --scenario t5 --pools 100 --seed 1``.

A scenario is a named world (several may be given, or `all`): its pools are packed by the ledger over ``--cut-offs`` and
sealed with masking noise, and what is found is held against declared bands. ``--referee`` fits the same pools from
single wears and from sums without noise, too. ``--out`` keeps pools as lines of JSON: what it holds is not run again,
so that runs add up.

Without a scenario: one outcome at a time.
Pools of 30 to 60 people at 6 to 8 sites (4 to 6 with ``--outcome survival``, ``skin`` or ``ratings``), sealed with
version 1 and fitted; ``--outcome own`` asks what new people can expect of their next wear, given none, one and three of
their own, and wants pools of 100 people or more (``--people 120 200``); ``--new-model`` gives them a sensor model that
the pool does not know, ``--new-site`` a site that it does not hold, and ``--sites`` says how many it holds.
``--outcome parts`` splits three cut-offs of 4 to 6 sites by phase, range and prompt; it leaves out choosing.
``--outcome lots`` sets wears by lot against chosen ones, over three cut-offs of 4 sites (``--people 120 250``). No time
enters; the same arguments give the same figures.
"""

import argparse
import sys
from collections.abc import Mapping
from itertools import combinations
from pathlib import Path

import numpy as np

from pooling.hierarchy import FitRules, fit
from pooling.sealing import SEAL_VERSION_1, seal_slot
from tests.calibration import lots, own, parts, running, wearing
from tests.calibration.pools import Pool, place_name, simulate, ties_between
from tests.calibration.scenarios import SCENARIOS
from tests.calibration.score import Score
from tests.calibration.table import markdown, table


def plain_mean(pool: Pool, cell: int) -> float:
    """Mean over people of each one's mean absolute relative difference at the cell, from all single wears."""
    wears = [wear for wear in pool.wears if wear.cell == cell]
    means = [
        np.mean([wear.stratum.a1 / wear.stratum.n_pairs for wear in wears if wear.person == person])
        for person in pool.people_at(cell)
    ]
    return 100 * float(np.mean(means))


def run(
    n_pools: int, seed: int, people: tuple[int, int], confounding: float, tied: bool, rules: FitRules
) -> dict[str, Score]:
    """Simulate, seal, fit and score pools."""
    names = ("site MARD", "site contrast", "extreme pair", "15/15", "20/20")
    scores = {name: Score.empty() for name in names}
    for index in range(n_pools):
        rng = np.random.default_rng([seed, index])
        pool = simulate(
            rng,
            n_people=int(rng.integers(people[0], people[1] + 1)),
            n_cells=int(rng.integers(6, 9)),
            confounding=confounding,
        )
        blocks = pool.blocks()
        ties = ties_between(blocks) if tied else ()
        key = f"{seed} {index}".encode()
        records = seal_slot(
            blocks, ties=ties, open_places=(), end_bucket=4, version=SEAL_VERSION_1, key=key, k=5
        ).records
        found = fit(records, rules, rng)
        kept = [
            index for index in range(len(pool.truth.location)) if place_name(index) in {s.place for s in found.sites}
        ]
        mard, plain = 100 * pool.truth.mard()[kept], np.array([plain_mean(pool, cell) for cell in kept])
        scores["site MARD"].add([site.mard_pct for site in found.sites], mard, plain)
        pairs = np.array(list(combinations(range(len(kept)), 2)))
        differences = [contrast.difference_mard_points for contrast in found.contrasts if contrast.kind == "sites"]
        true_differences = mard[pairs[:, 0]] - mard[pairs[:, 1]]
        plain_differences = plain[pairs[:, 0]] - plain[pairs[:, 1]]
        scores["site contrast"].add(differences, true_differences, plain_differences)
        last = len(kept) - 2
        scores["extreme pair"].add(
            [differences[last]], true_differences[last : last + 1], plain_differences[last : last + 1]
        )
        for name, band, field in (("15/15", 0.15, "within_15_15_pct"), ("20/20", 0.20, "within_20_20_pct")):
            rate = 100 * pool.truth.rate(band)[kept]
            simple = np.array([_plain_rate(pool, cell, band) for cell in kept])
            scores[name].add([getattr(site, field) for site in found.sites], rate, simple)
    return scores


def _plain_rate(pool: Pool, cell: int, band: float) -> float:
    wears = [wear.stratum for wear in pool.wears if wear.cell == cell]
    return 100 * float(np.mean([(wear.k15 if band < 0.2 else wear.k20) / wear.n_pairs for wear in wears]))


def scenarios(arguments: argparse.Namespace) -> None:
    """Run named worlds and print their tables."""
    names = tuple(SCENARIOS) if "all" in arguments.scenario else tuple(dict.fromkeys(arguments.scenario))
    jobs = [
        running.Job(name, arguments.seed, index, arguments.cut_offs, arguments.referee)
        for index in range(arguments.pools)
        for name in names
    ]
    pools = running.run_many(jobs, processes=arguments.jobs, path=arguments.out)
    if arguments.markdown:
        sys.stdout.write(markdown({name: [pool for pool in pools if pool["scenario"] == name] for name in names}))
        return
    for name in names:
        own = [pool for pool in pools if pool["scenario"] == name]
        ms = np.mean([pool["ms"] for pool in own])
        sys.stdout.write(f"{name}: {len(own)} pools, {ms:.0f} ms of one core a pool\n")
        sys.stdout.writelines(measured.line() + "\n" for measured in table(own))


def main() -> None:
    """Read the arguments, run, print."""
    parser = argparse.ArgumentParser(prog="python -m tests.calibration", description=__doc__)
    parser.add_argument(
        "--outcome", choices=("accuracy", "own", "parts", "lots", *wearing.CHANNELS), default="accuracy"
    )
    parser.add_argument("--pools", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--people", type=int, nargs=2, default=(30, 60), metavar=("FEWEST", "MOST"))
    parser.add_argument(
        "--confounding", type=float, default=1.0, help="0: nobody chooses; 1: people choose by accuracy"
    )
    parser.add_argument("--no-ties", action="store_true", help="leave out what the same people show at several sites")
    parser.add_argument("--who-chose", type=float, default=FitRules().who_chose)
    parser.add_argument("--new-model", action="store_true", help="--outcome own: of a sensor model not in the pool")
    parser.add_argument("--new-site", action="store_true", help="--outcome own: at a site that is not in the pool")
    parser.add_argument("--sites", type=int, default=4, help="--outcome own: of a pool")
    parser.add_argument("--scenario", nargs="+", choices=(*SCENARIOS, "all"), help="named worlds")
    parser.add_argument("--cut-offs", type=int, default=1, help="over how many the wears of a scenario arrive")
    parser.add_argument("--referee", action="store_true", help="measure errors against the individual-level fit")
    parser.add_argument("--jobs", type=int, default=1, help="processes")
    parser.add_argument("--markdown", action="store_true", help="print tables of worlds instead of lists")
    parser.add_argument("--out", type=Path, help="file of JSON lines to continue")
    arguments = parser.parse_args()
    if arguments.scenario:
        scenarios(arguments)
        return
    rules = FitRules(who_chose=arguments.who_chose)
    common = arguments.pools, arguments.seed, tuple(arguments.people), arguments.confounding
    tied = not arguments.no_ties
    scores: Mapping[str, Score | own.Covered]
    if arguments.outcome == "accuracy":
        scores = run(*common, tied, rules)
    elif arguments.outcome == "own":
        scores = own.run(
            *common, rules=rules, n_sites=arguments.sites, new_model=arguments.new_model, new_site=arguments.new_site
        )
    elif arguments.outcome == "parts":
        scores = parts.run(*common[:3], rules)
    elif arguments.outcome == "lots":
        scores = lots.run(*common, rules)
    else:
        scores = wearing.run(arguments.outcome, *common, tied=tied, rules=rules)
    for name, score in scores.items():
        sys.stdout.write(score.line(name) + "\n")


if __name__ == "__main__":
    main()
