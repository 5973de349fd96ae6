"""The whole fit: coverage, edge cases, and what it must not read."""

import ast
from dataclasses import astuple
from pathlib import Path

import numpy as np
import pytest

import pooling.hierarchy
from pooling.errors import TooFewPeople
from pooling.hierarchy import FitRules, fit
from pooling.sealing import SEAL_VERSION_1, Cell, Member, SealedRecords, seal_slot
from tests.calibration.__main__ import run
from tests.calibration.pools import Stratum, Summary, simulate

RULES = FitRules(draws=300)


def sealed(blocks):
    return seal_slot(blocks, open_places=(), end_bucket=4, version=SEAL_VERSION_1, key=b"slot", k=5).records


def people(n, *, seed=0, wears=1, shift=0.0, n_pairs=20):
    rng = np.random.default_rng(seed)
    return [
        Member(f"p{i}", f"a{i}", Summary({"all": Stratum.of(shift + 0.1 * rng.standard_normal(n_pairs))}))
        for i in range(n)
        for _ in range(wears)
    ]


def numbers(pooled):
    rows = [astuple(row) for row in (*pooled.cells, *pooled.sites, *pooled.contrasts)]
    flat, left = [], list(rows)
    while left:
        item = left.pop()
        left.extend(item) if isinstance(item, tuple) else flat.append(item)
    return [value for value in flat if isinstance(value, float)]


@pytest.mark.parametrize(
    ("blocks", "n_contrasts", "note"),
    [
        ([(Cell("everyone", "calf"), people(5))], 0, "one cell"),
        ([(Cell("everyone", "calf"), people(9, wears=2)), (Cell("everyone", "chest"), people(5))], 1, "no ties"),
        (
            [(Cell("everyone", "calf"), people(6)), (Cell("everyone", "chest"), people(6, shift=0.6))],
            1,
            "no repeated wears",
        ),
        (
            [(Cell("everyone", name), people(5, n_pairs=8)) for name in ("calf", "thigh", "thigh.front", "other")],
            6,
            "no ties",
        ),
    ],
    ids=["one block", "two cells", "a cell far from the other", "region and other"],
)
def test_tiny_pools_are_finite_wide_and_say_so(blocks, n_contrasts, note):
    pooled = fit(sealed(blocks), RULES, np.random.default_rng(1))
    assert np.isfinite(numbers(pooled)).all()
    assert len(pooled.contrasts) == n_contrasts
    assert any(note in text for text in pooled.diagnostics["notes"])
    assert min(pooled.diagnostics["effective"].values()) >= RULES.fewest_effective
    for cell in pooled.cells:
        assert cell.mard_pct.upper - cell.mard_pct.lower > 0.5


@pytest.mark.parametrize(
    ("places", "told"), [((("calf", "a"), ("calf", "b")), False), ((("calf", "a"), ("chest", "a")), True)]
)
def test_how_sites_differ_is_said_where_there_are_two(places, told):
    blocks = [(Cell("everyone", *where), people(9, seed=seed)) for seed, where in enumerate(places)]
    spreads = fit(sealed(blocks), RULES, np.random.default_rng(1)).spreads
    assert {("site" in named) for named in spreads.values()} == {told}


def test_a_cell_far_from_the_other_stays_there():
    blocks = [(Cell("everyone", "calf"), people(9)), (Cell("everyone", "chest"), people(9, shift=0.6))]
    pooled = fit(sealed(blocks), RULES, np.random.default_rng(1))
    near, far = pooled.cells
    assert far.mard_pct.median > 2 * near.mard_pct.median


def test_nothing_to_fit_is_said_so():
    with pytest.raises(TooFewPeople):
        fit(SealedRecords(), RULES, np.random.default_rng(1))


def test_loose_records_in_any_order_give_the_same_answer():
    rng = np.random.default_rng(3)
    records = sealed(simulate(rng, n_people=40, n_cells=3).blocks())
    loose = [*records.bundles, *records.overlaps, *records.blocks[::-1]]
    assert fit(loose, RULES, np.random.default_rng(1)) == fit(records, RULES, np.random.default_rng(1))


def test_a_groups_fit_is_not_moved_by_others_records():
    rng = np.random.default_rng(3)
    pool = simulate(rng, n_people=60, n_cells=4)
    blocks = [
        (Cell("g1" if i % 2 else "everyone", cell.place), members) for i, (cell, members) in enumerate(pool.blocks())
    ]
    both = sealed(blocks)
    alone = sealed([block for block in blocks if block[0].scope == "g1"])
    assert fit(both.within(["g1"]), RULES, np.random.default_rng(1)) == fit(alone, RULES, np.random.default_rng(1))


def test_intervals_hold_the_truth_in_a_slice_of_pools():
    """Twelve fixed pools of 30 to 60 confounded people, about 75 sites and 230 pairs of sites: the same on every run.

    The calibration command measures about .95 over 300 pools (docs/METHODS.md, section 7).
    """
    scores = run(12, 77, (30, 60), 1.0, False, FitRules(draws=300))
    for name in ("site MARD", "site contrast", "15/15", "20/20"):
        cover, _ = scores[name].coverage()
        assert 0.88 <= cover <= 1.0, name
    own, plain = (np.concatenate(part) for part in (scores["site contrast"].errors, scores["site contrast"].plain))
    assert np.sqrt((own**2).mean()) < 0.8 * np.sqrt((plain**2).mean())


@pytest.mark.parametrize("module", ["__init__", "channel", "combination", "criterion", "integration", "pool", "ties"])
def test_the_fit_reads_sealed_records_and_nothing_of_a_person(module):
    tree = ast.parse((Path(pooling.hierarchy.__file__).parent / f"{module}.py").read_text("utf-8"))
    imported = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    imported |= {name.name for node in ast.walk(tree) if isinstance(node, ast.Import) for name in node.names}
    own = {name for name in imported if name and name.startswith("pooling")}
    allowed = ("pooling.errors", "pooling.hierarchy", "pooling.sealing")
    assert all(name.startswith(allowed) for name in own)
    assert not own & {"pooling.sealing.unit", "pooling.sealing.wear", "pooling.sealing.slot"}
